"""A few jobs of the simulated workshop; `tests/benchmarks/workshop_proof.py` does hundreds."""

from __future__ import annotations

import numpy as np
import pytest

from benchctl.planner.progress import ZONES, Reckoning, ranges
from tests.benchmarks.workshop import CLEAR_PITS, RINGS, run_out, start
from tests.benchmarks.workshop_jobs import alone, follow, history_of, stages, straight_line

SEEDS = (9001, 9002, 9003, 9004)


def test_a_job_is_the_same_for_its_seed() -> None:
    """The same seed gives the same glass, person and scores."""
    once, again = (run_out(start(SEEDS[0])).records for _ in "ab")

    assert once == again


def test_clear_is_one_pit_in_ten_fields() -> None:
    """At the depth called clear, a tenth of a pit a field is left in every ring; a little above it, more."""
    damage = start(SEEDS[1]).damage
    clear = damage.clear_m()

    assert damage.pits * damage.left(clear) == pytest.approx(np.full(RINGS, CLEAR_PITS), rel=1e-3)
    assert (damage.left(0.98 * clear) > damage.left(clear)).all()


def test_a_wrong_post_makes_the_job_longer() -> None:
    """With the post off its place, the last zone is clear later than where it is best."""
    for seed in SEEDS[:2]:
        wrong, best = start(seed, wrong_post=True), start(seed, wrong_post=True)
        best.offset_m = round(best.bench.most_even_m(), 3)

        assert run_out(wrong).finish()[:ZONES].max() > 1.02 * run_out(best).finish()[:ZONES].max()


def test_most_zones_lie_in_their_range() -> None:
    """Over four jobs at half and three quarters, six or more in ten of the zones lie in their 80 % range."""
    inside = [
        low <= left <= high
        for seed in SEEDS
        for row in stages(seed, (0.5, 0.75))
        for left, (low, _, high) in zip(row.left, row.reckoned, strict=True)
        if left > 0.0
    ]

    assert np.mean(inside) >= 0.6


def test_a_straight_line_through_grey_ends_too_early() -> None:
    """At three quarters of the job the baseline promises an end, on the mean, before the true one."""
    rows = [stages(seed, (0.75,))[0] for seed in SEEDS[:2]]

    assert np.mean([row.baseline.mean() for row in rows]) < 0.8 * np.mean([row.left.mean() for row in rows])


def test_following_helps_a_wrong_post() -> None:
    """With a wrong post the suggestions bring the end forward, and move the post to do it."""
    alone_, followed = alone(SEEDS[1], wrong_post=True), follow(SEEDS[1], wrong_post=True)

    assert followed.said["post"] >= 1
    assert followed.finish < alone_
    assert followed.told.early == 0


def test_a_long_job_is_reckoned_in_time() -> None:
    """A log of 40 segments is reckoned with ranges in order (its time is in docs/planning.md)."""
    work = start(SEEDS[3])
    for _ in range(40):
        work.polish()
        if work.look_due():
            work.look()
    found = Reckoning(work.job, history_of(work))

    assert all(one.low <= one.likely <= one.high for one in ranges(found.segments_left()))
    assert straight_line(history_of(work)).shape == (ZONES,)
