"""Depth by ring: Preston's counter of work, spin and offset."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchctl.errors import BadInput
from benchctl.models.job import demo_job
from benchctl.planner.depth import RINGS, ZoneDepths, zone_depths_m

JOB = demo_job()


def mean_depth(depths: tuple[float, ...]) -> float:
    """Area-weighted mean over the five zones."""
    edges = np.linspace(JOB.mirror.hole_radius_m, JOB.mirror.radius_m, RINGS) ** 2
    return float(np.average(depths[:5], weights=np.diff(edges)))


def test_mean_depth_a_turn_is_prestons() -> None:
    """In step a turn takes 2 pi k W e / A on the mean, whatever the lap (Preston 1927, from memory)."""
    area = math.pi * (JOB.mirror.radius_m**2 - JOB.mirror.hole_radius_m**2)
    for offset in (0.115, 0.128, 0.135):
        depth = ZoneDepths(JOB).per_turn(JOB.load_n, offset, 1.0)

        assert mean_depth(depth) == pytest.approx(
            2 * math.pi * JOB.preston_per_pa * JOB.load_n * offset / area, rel=2e-3
        )


def test_the_demo_segment() -> None:
    """409 turns at 128 mm and 0.92 take about 0.23 um from each zone (worked example of this project)."""
    depths = zone_depths_m(JOB, load_n=JOB.load_n, post_offset_m=0.128, spin_ratio=0.92, useful_turns=409)

    assert depths[:5] == pytest.approx([0.23e-6] * 5, rel=0.05)


def test_post_out_takes_from_the_inner_zone() -> None:
    """3 mm out gives the inmost zone less and the edge more."""
    here, out = (ZoneDepths(JOB).per_turn(JOB.load_n, offset, 0.92) for offset in (0.128, 0.131))

    assert out[0] < 0.95 * here[0]
    assert out[4] > 1.03 * here[4]


def test_a_lag_takes_from_the_inner_zone() -> None:
    """A lap that lags polishes the edge more and the middle less."""
    free, lag = (ZoneDepths(JOB).per_turn(JOB.load_n, 0.128, spin) for spin in (1.0, 0.74))

    assert lag[0] < 0.9 * free[0]
    assert lag[4] > free[4]


def test_depth_goes_with_load_and_turns() -> None:
    """Twice the load or twice the turns take twice the depth."""
    once = zone_depths_m(JOB, load_n=100.0, post_offset_m=0.128, spin_ratio=0.9, useful_turns=100)
    twice = zone_depths_m(JOB, load_n=200.0, post_offset_m=0.128, spin_ratio=0.9, useful_turns=200)

    assert twice == pytest.approx([4 * one for one in once])


def test_depth_a_turn_does_not_know_the_speed() -> None:
    """At another speed the same turns take the same depth."""
    fast = JOB.model_copy(update={"segment": JOB.segment.model_copy(update={"work_rpm": 13.0})})

    assert ZoneDepths(fast).per_turn(JOB.load_n, 0.128, 0.9) == pytest.approx(
        ZoneDepths(JOB).per_turn(JOB.load_n, 0.128, 0.9)
    )


def test_without_a_measured_spin_the_predicted_one_counts() -> None:
    """A segment whose lap sensor was dead is taken at the spin that the mechanics predict."""
    depths = ZoneDepths(JOB)

    assert depths.per_turn(JOB.load_n, 0.128) == pytest.approx(
        depths.per_turn(JOB.load_n, 0.128, depths.spin_ratio(0.128)), rel=1e-6
    )


def test_a_lap_beside_the_glass_is_refused() -> None:
    """An offset at which the lap misses the glass is told by name."""
    with pytest.raises(BadInput, match="post_offset"):
        ZoneDepths(JOB).per_turn(JOB.load_n, 0.5)


def test_the_case_is_left_as_it_is() -> None:
    """Asking for another offset changes nothing for the next question."""
    depths = ZoneDepths(JOB)
    before = depths.per_turn(JOB.load_n, 0.128, 0.92)
    depths.per_turn(JOB.load_n, 0.12, 0.92)

    assert depths.per_turn(JOB.load_n, 0.128, 0.92) == before
