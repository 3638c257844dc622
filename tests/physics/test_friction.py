"""Friction against the sliding-and-spinning disc law and against SciPy's dblquad.

Z. Farkas, G. Bartels, T. Unger, D. E. Wolf, Phys. Rev. Lett. 90 (2003) 248302 (abstract read, formulas from
memory): a disc of radius R under even pressure, spinning at delta and sliding at v = q delta, feels
    F = mu W (4/(3 pi eps)) [(eps^2+1) E - (1-eps^2) K],   T = mu W R (4/(9 pi)) [(4-2 eps^2) E - (1-eps^2) K]
for eps = q/R <= 1, with K and E of modulus eps; SciPy's ellipk and ellipe take the parameter eps^2.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ellipe, ellipk

from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction
from benchctl.physics.pressure import solve_pressure

WIDE = Contact(10.0, 1.0, 1.0)
"""A lap of radius 1 m wholly on the glass, its centre 1 m from the axis: q = Omega e/delta = table/slip."""
EVEN = solve_pressure(WIDE, 1.0, "uniform")


@given(st.floats(1e-3, 1.0 - 1e-9))
def test_spinning_disc_slower_than_its_rim(eps: float) -> None:
    """Torque and force on a lap whose slip centre lies under it follow the disc law to 1e-12."""
    e, k = float(ellipe(eps**2)), float(ellipk(eps**2))
    sums = friction(WIDE, EVEN, eps, eps - 1.0)
    assert sums.lap_nm == pytest.approx(
        4 / (9 * math.pi) * ((4 - 2 * eps**2) * e - (1 - eps**2) * k), abs=1e-12
    )
    force = 4 / (3 * math.pi * eps) * ((eps**2 + 1) * e - (1 - eps**2) * k)
    assert sums.force_y_n == pytest.approx(force, rel=1e-9, abs=1e-12)


def test_far_and_near_routes_meet() -> None:
    """Just inside and just outside the distance at which the routes change, the torques agree to 1e-11."""
    near, far = friction(WIDE, EVEN, 2.0 - 1e-13, 1.0 - 1e-13), friction(WIDE, EVEN, 2.0 + 1e-13, 1.0 + 1e-13)
    assert near.lap_nm == pytest.approx(far.lap_nm, rel=1e-11)
    assert near.force_y_n == pytest.approx(far.force_y_n, rel=1e-11)


@given(st.floats(-3.0, 3.0).filter(lambda s: abs(s) > 1e-3))
def test_torque_is_the_derivative_of_the_heat(slip: float) -> None:
    """M = dD/d(delta) at a fixed pressure (Goyal, Ruina, Papadopoulos 1991, maximum power; from memory)."""
    contact = Contact(0.25, 0.175, 0.12, 0.03)
    pressure = solve_pressure(contact, 200.0)
    step = 1e-5
    higher, lower = (friction(contact, pressure, 1.0, 1.0 - s).rubbing_w for s in (slip + step, slip - step))
    found = friction(contact, pressure, 1.0, 1.0 - slip).lap_nm
    assert found == pytest.approx((higher - lower) / (2 * step), rel=2e-5, abs=1e-5)
    assert np.isfinite(found)
