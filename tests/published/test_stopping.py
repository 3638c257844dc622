"""Stopping, loose weights and tilt against tables worked out apart and SciPy's integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from benchctl.errors import BadInput
from benchctl.physics import stopping
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction, friction_torques
from benchctl.physics.pressure import lowest_pressure, solve_pressure

MACHINES = {
    "B": (0.53, 157.0, 0.060, 4.7, 8.9, 1.1),
    "A": (2.54, 314.0, 0.090, 14.0, 5.6, 5.1),
    "C": (7.2, 490.0, 0.110, 27.0, 3.7, 14.0),
}
"""Inertia, load, offset (set to give the drag), drag at mu 0.5, slowing unpowered, torque at 2 rad/s2."""
LOOSE = {
    0.15: (42, 30, 24, 21),
    0.20: (49, 35, 28, 24),
    0.25: (55, 39, 32, 27),
    0.30: (60, 42, 35, 30),
    0.40: (69, 49, 40, 35),
    0.60: (85, 60, 49, 42),
}
"""Friction: highest rpm of a loose weight at 5, 10, 15, 20 cm, safety factor 1.5 (worked out apart)."""


@pytest.mark.parametrize("machine", MACHINES)
def test_three_machines(machine: str) -> None:
    """Drag, slowing without power and braking torque of three machines are as the table says."""
    inertia, load, offset, drag, slowing, torque = MACHINES[machine]
    pull = 0.5 * load * offset

    assert pull == pytest.approx(drag, rel=0.02)
    assert stopping.coast_slowing_rad_s2(inertia, pull) == pytest.approx(slowing, rel=0.02)
    assert stopping.brake_torque_nm(inertia, 2.0, 0.0) == pytest.approx(torque, rel=0.05)


@pytest.mark.parametrize("friction_coefficient", LOOSE)
def test_table_of_loose_weights(friction_coefficient: float) -> None:
    """A loose weight stays put below the speeds of the table, to a whole rpm."""
    speeds = [stopping.loose_weight_rpm(r, friction_coefficient) for r in (0.05, 0.10, 0.15, 0.20)]

    assert [round(speed) for speed in speeds] == list(LOOSE[friction_coefficient])


def test_stop_by_solve_ivp() -> None:
    """A steady slowing from 35 rpm at 1 rad/s2 takes 3.7 s and 1.1 turns, as SciPy's solve_ivp finds."""
    speed = stopping.rad_per_s(35.0)

    def still(_: float, state: np.ndarray) -> float:
        return float(state[1])

    still.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(lambda _, state: [state[1], -1.0], (0.0, 10.0), [0.0, speed], events=still, rtol=1e-10)

    assert stopping.stop_time_s(speed, 1.0) == pytest.approx(solved.t_events[0][0], rel=1e-8)
    assert stopping.stop_turns(speed, 1.0) == pytest.approx(
        solved.y_events[0][0][0] / (2 * math.pi), rel=1e-8
    )
    assert stopping.stop_time_s(speed, 1.0) == pytest.approx(3.7, abs=0.05)


@pytest.mark.parametrize("radius", [0.08, 0.12])
def test_a_weight_bears_what_its_friction_gives(radius: float) -> None:
    """At the speed and slowing allowed, inward and turning force together are the friction (Pythagoras)."""
    speed = stopping.rad_per_s(30.0)
    slowing = stopping.loose_weight_slowing_rad_s2(speed, radius)

    assert slowing > 0.0
    assert math.hypot(speed**2 * radius, slowing * radius) == pytest.approx(0.25 * 9.80665 / 1.5, rel=1e-12)
    assert stopping.loose_weight_slowing_rad_s2(stopping.rad_per_s(45.0), 0.15) == 0.0


@pytest.mark.parametrize("ratio", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("offset", [0.0, 0.3, 2 / 3, 1.0, 3.0])
def test_the_greatest_drag_is_never_passed(offset: float, ratio: float) -> None:
    """No lap speed pulls harder on the table than the bound: a mean is at most the root mean square."""
    contact = Contact(10.0, 1.0, offset)
    pressure = solve_pressure(contact, 7.0, "uniform")
    bound = stopping.greatest_drag_nm(0.4, 7.0, offset, 1.0)

    assert 0.4 * friction_torques(contact, pressure, 1.0, ratio)[1] <= bound


def test_the_edge_unloads_at_the_height_given() -> None:
    """With the drive point at Rl/(4 mu) the lowest pressure of a lap wholly on the glass is 0."""
    contact, mu = Contact(1.0, 0.5, 0.2), 0.4
    height = stopping.edge_unloads_height_m(0.5, mu)
    pressure = solve_pressure(contact, 100.0, "linear", (0.0, -mu * height))

    assert lowest_pressure(contact, *pressure.coefficients) == pytest.approx(0.0, abs=1e-9 * pressure.a)
    assert friction(contact, pressure, 1.0, 1.0).force_y_n == pytest.approx(100.0)
    assert stopping.lap_tips_height_m(0.5, mu) == pytest.approx(4 * height)


def test_the_tilt_test() -> None:
    """A weight that slides at 14 degrees has a friction of 0.25."""
    assert stopping.friction_from_tilt(14.0) == pytest.approx(0.25, abs=1e-3)


def test_what_holds_the_mirror() -> None:
    """14 kg under 16 kg on wet pads hold 69 N with a factor of 1.5 in hand, less than a lap's 78 N."""
    assert stopping.mirror_hold_n(14.0, 16.0) == pytest.approx(69, abs=0.5)
    assert stopping.mirror_hold_slowing_rad_s2(69.0, 0.15, 4.7, 0.53) == pytest.approx(
        (69 * 0.15 - 4.7) / 0.53
    )
    assert stopping.mirror_hold_slowing_rad_s2(10.0, 0.15, 4.7, 0.53) == 0.0


def test_the_motor_is_limited_by_the_weakest() -> None:
    """The drive's limit is the least of 2.5 times the drag, the post's rating and the mirror's hold."""
    assert stopping.motor_torque_limit_nm(4.0, 0.1, None, None) == 10.0
    assert stopping.motor_torque_limit_nm(4.0, 0.1, 60.0, None) == pytest.approx(6.0)
    assert stopping.motor_torque_limit_nm(4.0, 0.1, 60.0, 5.0) == 5.0


@pytest.mark.parametrize(
    ("act", "name"),
    [
        (lambda: stopping.stop_time_s(3.0, 0.0), "slowing_rad_s2"),
        (lambda: stopping.loose_weight_rpm(0.1, -0.2), "friction"),
        (lambda: stopping.friction_from_tilt(85.0), "slip_angle_deg"),
        (lambda: stopping.turning_energy_j(math.inf, 1.0), "inertia_kg_m2"),
    ],
)
def test_nonsense_is_refused_by_name(act: object, name: str) -> None:
    """What cannot be is refused, and the argument is named."""
    with pytest.raises(BadInput, match=name):
        act()  # type: ignore[operator]
