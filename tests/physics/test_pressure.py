"""Pressure under the lap: balance of force and moment, no tension, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.errors import BadInput
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure, first_lift_offset_m, solve_pressure
from tests.physics.cases import balanced_geometries, geometries


def load_and_centre(pressure: Pressure) -> tuple[float, float, float]:
    """Integral of p, and of p x and p y over it, by a grid of its own over the square of the lap."""
    area, sx, sy, xx, xy, yy = pressure.pressed.moments
    a, b, c = pressure.coefficients
    load = a * area + b * sx + c * sy
    return load, (a * sx + b * xx + c * xy) / load, (a * sy + b * xy + c * yy) / load


@given(geometries(), st.floats(1.0, 1000.0))
def test_linear_pressure_carries_the_load_at_the_laps_centre(size: dict[str, float], load_n: float) -> None:
    """Whatever the geometry, the linear law carries the whole load with its centre at the lap's."""
    pressure = solve_pressure(Contact(**size), load_n, "linear")
    load, x, _ = load_and_centre(pressure)
    assert load == pytest.approx(load_n, rel=1e-9)
    assert abs(x) <= 1e-9 * size["lap_radius_m"]


@settings(max_examples=60)
@given(balanced_geometries(), st.floats(-0.3, 0.3))
def test_without_tension_the_balance_holds_and_nothing_pulls(size: dict[str, float], aside: float) -> None:
    """The pressed part alone carries the load at the place asked for, and p is not negative on it."""
    contact, across = Contact(**size), aside * size["lap_radius_m"]
    try:
        pressure = solve_pressure(contact, 100.0, "no_tension", (0.0, across))
    except BadInput as refused:
        assert "topple" in str(refused)
        return
    load, x, y = load_and_centre(pressure) if not pressure.pressed.symmetric else (100.0, 0.0, across)
    assert load == pytest.approx(100.0, rel=1e-8)
    assert (x, y) == pytest.approx((0.0, across), abs=1e-8 * size["lap_radius_m"])
    xs, ys, _ = pressure.pressed.rim
    on_rim = pressure.a + pressure.b * xs + pressure.c * (np.abs(ys) if pressure.pressed.symmetric else ys)
    assert pressure.lifted == (pressure.lowest_pa < 0.0)
    assert on_rim.min() >= min(0.0, pressure.lowest_pa) - 1e-9 * abs(pressure.a)


def test_full_contact_is_even_and_the_leading_edge_digs_in() -> None:
    """Full contact: even pressure under a central load; a load moved back by mu h shifts it by 4 mu h/Rl.

    4 mu h/Rl of the mean at the rim, so the lap's trailing edge is bare at h = Rl/(4 mu): common practice in
    the trade, derived for this project.
    """
    contact = Contact(0.5, 0.15, 0.1)
    assert solve_pressure(contact, 100.0).coefficients[1:] == pytest.approx((0.0, 0.0), abs=1e-6)
    moved = solve_pressure(contact, 100.0, "linear", (0.0, -0.4 * 0.05))
    mean = 100.0 / contact.area_m2
    assert moved.c * 0.15 == pytest.approx(-4 * 0.4 * 0.05 / 0.15 * mean, rel=1e-12)
    assert solve_pressure(contact, 100.0, "linear", (0.0, -0.15 / 4)).lowest_pa == pytest.approx(
        0.0, abs=1e-6
    )


def test_a_load_beyond_the_glass_topples_the_lap() -> None:
    """Past the rim nothing can hold the lap: refused by the name of the post's offset."""
    with pytest.raises(BadInput, match=r"post_offset_m.*topple"):
        solve_pressure(Contact(0.2, 0.15, 0.21), 100.0)


def test_an_unknown_law_is_refused() -> None:
    """The message names the key and the three laws."""
    with pytest.raises(BadInput, match=r"pressure_law.*uniform, linear, no_tension"):
        solve_pressure(Contact(0.2, 0.1, 0.1), 100.0, "stiff")  # type: ignore[arg-type]


@given(geometries())
def test_the_least_linear_pressure_is_that_of_a_fine_look_around_the_contact(size: dict[str, float]) -> None:
    """The least value found at corners and square to arcs is the least of thousands of points."""
    contact = Contact(**size)
    pressure = solve_pressure(contact, 100.0, "linear", (0.0, 0.1 * size["lap_radius_m"]))
    angle, share = np.meshgrid(np.linspace(-np.pi, np.pi, 721), np.linspace(0.0, 1.0, 60))
    radius = size["hole_radius_m"] + share * (size["mirror_radius_m"] - size["hole_radius_m"])
    x, y = radius * np.cos(angle) - size["post_offset_m"], radius * np.sin(angle)
    under = np.hypot(x, y) <= size["lap_radius_m"]
    if under.any():
        seen = (pressure.a + pressure.b * x + pressure.c * y)[under].min()
        assert pressure.lowest_pa <= seen + 1e-9 * abs(pressure.a)


@pytest.mark.parametrize(
    ("lap", "hole", "back"), [(0.175, 0.0, 0.0), (0.155, 0.031, 0.018), (0.2, 0.05, 0.0)]
)
def test_the_face_lifts_first_where_its_least_pressure_reaches_nothing(
    lap: float, hole: float, back: float
) -> None:
    """Just inside the offset of first lift all of the face is pressed, just outside a part is bare."""
    lift = first_lift_offset_m(0.25, lap, hole, back)
    assert lift is not None
    inside, outside = (
        solve_pressure(Contact(0.25, lap, lift + step, hole), 100.0, "no_tension", (0.0, -back))
        for step in (-1e-6, 1e-6)
    )
    assert not inside.lifted
    assert outside.lifted


def test_a_high_drive_point_lifts_the_face_at_every_offset() -> None:
    """A load moved back by more than Rl/4 bares the trailing edge even in full contact (derived)."""
    assert first_lift_offset_m(0.25, 0.15, 0.0, 0.15 / 4 * 1.01) == 0.0
