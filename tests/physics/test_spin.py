"""The spin ratio: in step, lagging, leading, counter-rotating, stalled; tables for the simulated bench."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.errors import BadInput
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction_torques
from benchctl.physics.pressure import solve_pressure
from benchctl.physics.spin import (
    coulomb_spin_ratio,
    predicted_load_jump,
    predicted_spin,
    torque_table,
)
from tests.physics.cases import balanced_geometries, geometries


@settings(max_examples=60)
@given(balanced_geometries(), st.floats(0.05, 1.0), st.floats(1.0, 1000.0))
def test_without_drag_a_centre_loaded_lap_spins_with_the_table(
    size: dict[str, float], mu: float, load_n: float
) -> None:
    """In-step theorem: centre load and no drag give a ratio of 1 whatever the geometry or load."""
    contact = Contact(**size)
    if contact.post_offset_m > 0.9 * contact.mirror_radius_m:
        return
    assert predicted_spin(contact, load_n=load_n, friction_coefficient=mu) == pytest.approx(1.0, abs=1e-9)


@settings(max_examples=60)
@given(geometries(), st.floats(0.0, 1.2))
def test_friction_balances_the_drag_at_the_ratio_found(size: dict[str, float], share: float) -> None:
    """At the ratio given, friction torque equals drag, or the drag exceeds what friction can do at rest."""
    contact = Contact(**size)
    pressure = solve_pressure(contact, 100.0, "uniform")
    scale = 0.4 * 100.0 * size["lap_radius_m"]
    drag = share * 0.3 * scale
    ratio = coulomb_spin_ratio(contact, pressure, 0.4, drag)
    held = 0.4 * friction_torques(contact, pressure, 1.0, 0.0)[0]
    if abs(held) <= drag:
        assert ratio == 0.0
        return
    torque = 0.4 * friction_torques(contact, pressure, 1.0, ratio)[0]
    if contact.post_offset_m > 1e-6 * contact.lap_radius_m:
        assert torque == pytest.approx(math.copysign(drag, held), abs=1e-9 * scale)
    assert math.copysign(1.0, ratio) == math.copysign(1.0, held)


def test_small_drag_lags_by_the_closed_form() -> None:
    """Full contact: lag = 4 e T/(mu W Rl^2) for small T (derived for this project)."""
    contact = Contact(0.25, 0.175, 0.06)
    ratio = predicted_spin(contact, load_n=200.0, friction_coefficient=0.3, post_drag_nm=1e-3)
    assert 1 - ratio == pytest.approx(4 * 0.06 * 1e-3 / (0.3 * 200 * 0.175**2), rel=1e-6)


def test_even_pressure_on_a_lens_lags_leads_over_a_hole_and_turns_back_past_the_rim() -> None:
    """Even pressure is off balance: behind where it overhangs, ahead over a hole, backwards past the rim."""
    found = [
        coulomb_spin_ratio(contact, solve_pressure(contact, 200.0, "uniform"), 0.3)
        for contact in (Contact(0.25, 0.175, 0.12), Contact(0.25, 0.15, 0.08, 0.06), Contact(0.25, 0.1, 0.3))
    ]
    assert found[0] == pytest.approx(0.7438962284900172, abs=1e-10)
    assert found[1] > 1.0
    assert found[2] < 0.0


def test_a_drag_just_above_the_stall_torque_holds_the_lap() -> None:
    """At the stall torque and above the ratio is 0; just below the lap creeps."""
    contact = Contact(0.25, 0.15, 0.08)
    stall = 0.3 * friction_torques(contact, solve_pressure(contact, 200.0), 1.0, 0.0)[0]
    ratios = [
        predicted_spin(contact, load_n=200.0, friction_coefficient=0.3, post_drag_nm=stall * f)
        for f in (0.999, 1.0, 1.5)
    ]
    assert 0.0 < ratios[0] < 0.01
    assert ratios[1:] == [0.0, 0.0]


def test_a_concentric_lap_is_carried_along_until_the_drag_exceeds_two_thirds() -> None:
    """Post over the axis: ratio 1 up to a drag of 2/3 mu W Rl, 0 above; viscous drag lets it slip between."""
    contact, limit = Contact(0.3, 0.15, 0.0), 2 / 3 * 0.3 * 200 * 0.15

    def ratio(drag: float, viscous: float = 0.0) -> float:
        return predicted_spin(
            contact,
            load_n=200.0,
            friction_coefficient=0.3,
            post_drag_nm=drag,
            post_drag_viscous_nm=viscous,
        )

    assert ratio(0.999 * limit) == 1.0
    assert ratio(1.001 * limit) == 0.0
    assert ratio(0.0, 2 * limit) == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize("offset", [1e-6, 1e-4, 0.01, 0.06])
def test_the_slip_centre_may_lie_under_the_lap(offset: float) -> None:
    """Strong drag at a small offset: the ratio meets the closed form of the disc law to 1e-8.

    T = mu W R (4/(9 pi)) [(4-2m) E - (1-m) K], m = (e/(R (1-ratio)))^2 (Farkas et al. 2003, from memory).
    """
    from scipy.special import ellipe, ellipk

    for wanted in (0.05, 0.5, 0.9):
        eps = offset / (0.15 * (1 - wanted))
        if eps >= 1.0 or (offset < 1e-5 and wanted < 0.6):
            continue
        e, k = float(ellipe(eps**2)), float(ellipk(eps**2))
        drag = 0.3 * 200 * 0.15 * 4 / (9 * math.pi) * ((4 - 2 * eps**2) * e - (1 - eps**2) * k)
        ratio = predicted_spin(
            Contact(0.3, 0.15, offset), load_n=200.0, friction_coefficient=0.3, post_drag_nm=drag
        )
        curvature = (offset / 0.15) ** 2 / (1 - wanted) ** 3
        assert ratio == pytest.approx(wanted, abs=max(1e-8, 1e-15 / curvature))


def test_a_table_of_torques_is_the_function_it_was_made_from_and_turns_round_with_the_speeds() -> None:
    """Entry k holds the torques at the angle 2 pi k/points; opposite speeds give opposite torques."""
    contact = Contact(0.23, 0.155, 0.128, 0.031)
    lap, table = torque_table(contact, 189.0, points=72)
    pressure = solve_pressure(contact, 189.0)
    for k in (0, 9, 20, 50):
        angle = 2 * math.pi * k / 72
        expected = friction_torques(contact, pressure, math.cos(angle), math.sin(angle))
        assert (lap[k], table[k]) == pytest.approx(expected, rel=1e-12)
    assert np.roll(lap, 36) == pytest.approx(-lap, abs=1e-9)
    assert np.roll(table, 36) == pytest.approx(-table, abs=1e-9)
    for k in (40, 61):
        angle = 2 * math.pi * k / 72
        turned = friction_torques(contact, pressure, math.cos(angle), math.sin(angle))
        assert (lap[k], table[k]) == pytest.approx(turned, rel=1e-9)
    with pytest.raises(BadInput, match="points"):
        torque_table(contact, 189.0, points=7)


def test_in_step_the_table_feels_friction_times_load_times_offset() -> None:
    """M_table = mu W e in step, for an overhanging lap with a hole (derived for this project)."""
    contact = Contact(0.23, 0.155, 0.128, 0.031)
    _, table = friction_torques(contact, solve_pressure(contact, 189.0), 2.7, 2.7)
    assert table == pytest.approx(189.0 * 0.128, rel=1e-12)


def test_a_stall_raises_the_load_by_little() -> None:
    """A 70 % lap at its even offset raises table torque by 22 % when it stalls: the load is a weak sign."""
    jump = predicted_load_jump(Contact(0.25, 0.175, 0.137), load_n=200.0)
    assert jump == pytest.approx(1.22, abs=0.01)
    assert predicted_load_jump(Contact(0.25, 0.175, 0.137), load_n=200.0, spin_ratio=0.0) == 1.0


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_ratio_depends_on_drag_over_load_and_on_proportions_only(stretch: float, weight: float) -> None:
    """All lengths times s with the drag times s, or load and drag times w, leave the ratio as it was."""
    first = predicted_spin(
        Contact(0.25, 0.175, 0.137), load_n=200.0, friction_coefficient=0.3, post_drag_nm=1.0
    )
    scaled = predicted_spin(
        Contact(0.25 * stretch, 0.175 * stretch, 0.137 * stretch),
        load_n=200.0 * weight,
        friction_coefficient=0.3,
        post_drag_nm=weight * stretch,
    )
    assert scaled == pytest.approx(first, abs=1e-11)
