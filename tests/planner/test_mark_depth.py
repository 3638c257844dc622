"""What a kept segment removed, against Preston's law in closed form and by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from benchctl.physics.contact import Contact
from benchctl.physics.pressure import solve_pressure
from benchctl.planner.mark_depth import work_removed
from benchctl.planner.mark_ledger import MarkLedger
from benchctl.planner.marks import print_through

FACTS = {
    "table_turns": 400.0,
    "load_n": 189.27,
    "post_offset_m": 0.128,
    "mirror_radius_m": 0.23,
    "mirror_hole_radius_m": 0.031,
    "lap_radius_m": 0.155,
}


@given(st.floats(0.05, 0.14), st.floats(50.0, 400.0), st.floats(0.1, 0.2), st.sampled_from([0.0, 0.02]))
def test_a_lap_that_turns_with_the_mirror_removes_load_times_offset_times_turns(
    offset: float, load: float, lap: float, hole: float
) -> None:
    """Preston 1927 (from memory): the whole load rubs at the same speed, whatever the lap's size."""
    facts = FACTS | {
        "post_offset_m": offset, "load_n": load, "lap_radius_m": lap, "mirror_hole_radius_m": hole,
        "spin_ratio_mean": 1.0,
    }  # fmt: skip
    assert work_removed(facts) == pytest.approx(400.0 * load * round(offset, 5), rel=2e-3)


@pytest.mark.parametrize("spin", [0.0, 0.4, 0.74, 0.9])
def test_a_lap_that_lags_removes_what_a_sum_over_its_face_says(spin: float) -> None:
    """Pressure times rubbing speed summed over the contact (SciPy's dblquad), for a lap all on the glass.

    In the lap's frame a point at (x, y) rubs at |(1 - s) w x (r) + s w x e| for a table that turns at w = 1.
    """
    mirror, lap, offset, load = 0.3, 0.12, 0.1, 100.0
    pressure = solve_pressure(Contact(mirror, lap, offset), load)
    assert not pressure.lifted

    def rubbing(y: float, x: float) -> float:
        pressed = pressure.a + pressure.b * x + pressure.c * y
        return pressed * math.hypot((1 - spin) * (x + offset) + spin * offset, (1 - spin) * y)

    total, _ = integrate.dblquad(
        rubbing,
        -lap,
        lap,
        lambda x: -math.sqrt(lap**2 - x**2),
        lambda x: math.sqrt(lap**2 - x**2),
        epsrel=1e-6,
    )
    facts = {
        "table_turns": 1.0, "load_n": load, "post_offset_m": offset, "mirror_radius_m": mirror,
        "lap_radius_m": lap, "spin_ratio_mean": spin,
    }  # fmt: skip
    assert work_removed(facts) == pytest.approx(total, rel=1e-3)


def test_what_a_record_lacks_is_made_up_for() -> None:
    """Without geometry load x offset x turns; a lap beside the mirror the same; no turns remove nothing."""
    bare = {"table_turns": 100.0, "load_n": 189.0, "post_offset_m": 0.128}
    assert work_removed(bare) == pytest.approx(100.0 * 189.0 * 0.128)
    assert work_removed(FACTS | {"post_offset_m": 0.5}) == pytest.approx(400.0 * 189.27 * 0.5)
    for turns in (0.0, -5.0, None, "many", math.nan):
        assert work_removed(FACTS | {"table_turns": turns}) in (0.0, pytest.approx(0.0))


def test_the_ledger_weighs_by_it() -> None:
    """A stalled lap's segment pulls more than its turns say: the share left follows numpy's own sum."""
    ledger = MarkLedger(13)
    spins = {1: 0.9, 5: 0.0, 9: 0.9}
    for mark, spin in spins.items():
        ends = {"mark": mark, "planned_s": 960.0, "work_rpm": 26.0, "spin_ratio_mean": spin}
        ledger.take("segment_end", FACTS | ends)
    weights = np.array([work_removed(FACTS | {"spin_ratio_mean": spin}) for spin in spins.values()])
    angles = 2 * math.pi * (np.array(list(spins)) - 1) / 13
    expected = abs((weights * np.exp(2j * angles)).sum()) / weights.sum()
    assert weights[1] > 1.1 * weights[0]
    assert print_through(ledger.placed, 13, 2) == pytest.approx(expected, rel=1e-12)
