"""Removal along an arc: the rubbing speed in elliptic integrals, against SciPy's quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from benchctl.errors import BadInput
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction_torques
from benchctl.physics.pressure import solve_pressure
from benchctl.physics.removal import arc_half_angle, removal_rate, speed_integrals
from benchctl.physics.spin import coulomb_spin_ratio, predicted_load_jump


def test_arcs_under_the_lap() -> None:
    """A circle is covered wholly up to Rl - e, not at all from e + Rl, and by the cosine rule between."""
    contact = Contact(0.5, 0.15, 0.1)
    angles = arc_half_angle(contact, np.array([0.0, 0.05, 0.15, 0.25, 0.3]))
    between = math.acos((0.15**2 + 0.1**2 - 0.15**2) / (2 * 0.15 * 0.1))
    assert angles == pytest.approx([math.pi, math.pi, between, 0.0, 0.0], abs=1e-7)
    beside = arc_half_angle(Contact(0.5, 0.1, 0.3), np.array([0.0, 0.2, 0.3]))
    assert beside == pytest.approx([0.0, 0.0, math.acos(1 - 0.1**2 / (2 * 0.3**2))], abs=1e-7)


@pytest.mark.parametrize("turning", [-3.0, -1.0, -0.5, -0.2, 0.0, 0.1, 0.5, 0.999, 1.0, 1.3, 8.0])
@pytest.mark.parametrize(("first", "last"), [(0.0, math.pi), (0.0, 1.2), (0.7, 2.9), (2.0, math.pi)])
def test_speed_over_an_arc_agrees_with_scipys_quad(turning: float, first: float, last: float) -> None:
    """The integrals of the rubbing speed along an arc agree with scipy.integrate.quad to 1e-9."""
    ends = np.array([first]), np.array([last])
    found = speed_integrals(np.array([turning]), 1.0, *ends)
    for weight, value in zip((lambda _: 1.0, math.cos, math.sin), found, strict=True):

        def density(phi: float, weight: object = weight) -> float:
            gap = (abs(turning) - 1.0) ** 2
            from_slow = math.cos(phi / 2) if turning >= 0 else math.sin(phi / 2)
            return weight(phi) * math.sqrt(gap + 4 * abs(turning) * from_slow**2)  # type: ignore[operator]

        expected, _ = quad(density, first, last, epsabs=1e-12, epsrel=1e-12, limit=200)
        assert float(value[0]) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_nonsense_is_refused_by_name() -> None:
    """Radii, speeds, loads and coefficients that are not numbers are named, whichever function gets them."""
    contact = Contact(0.25, 0.175, 0.12)
    pressure = solve_pressure(contact, 200.0)
    for call, name in (
        (lambda: removal_rate(contact, pressure, 1.0, 1.0, 1e-12, np.array([math.nan])), "radii_m"),
        (lambda: removal_rate(contact, pressure, 1.0, 1.0, 1e-12, np.array([-0.1])), "radii_m"),
        (lambda: removal_rate(contact, pressure, math.nan, 1.0, 1e-12, np.array([0.1])), "table_rad_s"),
        (lambda: removal_rate(contact, pressure, 1.0, 1.0, -1e-12, np.array([0.1])), "preston_per_pa"),
        (lambda: friction_torques(contact, pressure, 1.0, math.inf), "lap_rad_s"),
        (lambda: solve_pressure(contact, math.nan), "load_n"),
        (lambda: solve_pressure(contact, 1.0, "linear", (math.nan, 0.0)), "centre_m"),
        (lambda: coulomb_spin_ratio(contact, pressure, -0.3), "friction_coefficient"),
        (lambda: coulomb_spin_ratio(contact, pressure, 0.3, math.nan), "post_drag_nm"),
        (lambda: predicted_load_jump(contact, load_n=200.0, spin_ratio=math.nan), "spin_ratio"),
        (lambda: Contact(0.25, True, 0.1), "lap_radius_m"),
    ):
        with pytest.raises(BadInput, match=name):
            call()
