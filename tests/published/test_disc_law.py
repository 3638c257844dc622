"""Friction under a whole disc against the published law of the sliding and spinning disc.

Z. Farkas, G. Bartels, T. Unger, D. E. Wolf, Phys. Rev. Lett. 90 (2003) 248302: force and torque on a
disc that slides and spins at once, by complete elliptic integrals (abstract read; formulas from memory).
SciPy's `ellipk` and `ellipe` take the parameter m = k^2 of DLMF chapter 19 (from memory).
"""

from __future__ import annotations

import math

import pytest
from scipy.special import ellipe, ellipk

from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction
from benchctl.physics.pressure import solve_pressure

DISC = 1.0
CHECKED = (
    (0.3, 0.711411601871, 0.622435826101, 0.296585919233),
    (0.7, 0.903814204832, 0.446028925510, 0.653978970461),
    (1.0, 32 / (9 * math.pi), 8 / (9 * math.pi), 8 / (3 * math.pi)),
    (1.5, 1.585027168774, 0.173798105525, 0.940819375499),
    (3.0, 3.041863732910, 0.084130234941, 0.985911165990),
)
"""q/R, mean distance, torque, force, in mu W and R: worked out apart, 12 digits."""


def on_the_disc(q: float) -> tuple[float, float, float]:
    """Mean distance, torque and force for a slip centre q from the disc's centre, unit load."""
    contact = Contact(10.0, DISC, 0.5)
    table = q * 1.0 / 0.5
    sums = friction(contact, solve_pressure(contact, 1.0, "uniform"), table, table - 1.0)
    return sums.rubbing_w, sums.lap_nm, sums.force_y_n


def published(q: float) -> tuple[float, float]:
    """Torque and force by the published law, q < 1."""
    k, e = ellipk(q * q), ellipe(q * q)
    torque = 4 / (9 * math.pi) * ((4 - 2 * q * q) * e - (1 - q * q) * k)
    return torque, 4 / (3 * math.pi * q) * ((q * q + 1) * e - (1 - q * q) * k)


@pytest.mark.parametrize("q", [0.01, 0.2, 0.5, 0.9, 0.999, 1 - 1e-9])
def test_torque_and_force_are_the_published_ones(q: float) -> None:
    """With the slip centre inside the disc, torque and force are those of the published law."""
    _, torque, force = on_the_disc(q)

    assert (torque, force) == pytest.approx(published(q), rel=1e-10, abs=1e-12)


@pytest.mark.parametrize(("q", "distance", "torque", "force"), CHECKED)
def test_table_of_worked_values(q: float, distance: float, torque: float, force: float) -> None:
    """Inside, on and outside the rim, the three integrals agree with values worked out apart."""
    assert on_the_disc(q) == pytest.approx((distance, torque, force), abs=3e-12)


@pytest.mark.parametrize("q", [1.001, 2.0, 5.0, 6.5])
def test_outside_the_disc(q: float) -> None:
    """With the slip centre outside, the mean distance is the closed form for q >= R (derived apart)."""
    m = 1 / (q * q)
    k, e = ellipk(m), ellipe(m)
    distance = 4 * q**3 / (9 * math.pi) * ((1 + 7 * m) * e - (1 - m) * (1 + 3 * m) * k)

    assert on_the_disc(q)[0] == pytest.approx(distance, rel=1e-10)


def test_a_spinning_disc_alone() -> None:
    """A disc that only spins feels two thirds of mu W R (textbook clutch, even pressure)."""
    contact = Contact(10.0, DISC, 0.0)
    sums = friction(contact, solve_pressure(contact, 1.0, "uniform"), 1.0, 0.0)

    assert sums.lap_nm == pytest.approx(2 / 3, rel=1e-12)


def test_a_fast_slide_leaves_little_torque() -> None:
    """Far from the slip centre the torque falls as mu W R^2/(4 q) (leading term of the published law)."""
    q = 1e4

    assert on_the_disc(q)[1] == pytest.approx(1 / (4 * q), rel=1e-7)
