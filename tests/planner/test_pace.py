"""The wandering pace: a stationary autoregressive process, held against SciPy's filter and sums."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import lfilter

from benchctl.planner.pace import MEMORY_SEGMENTS, PACE_SPREAD, lengths, stretch_ends, to_come, wander

KEPT = math.exp(-1.0 / MEMORY_SEGMENTS)


def test_looks_cut_the_work_into_stretches() -> None:
    """A stretch ends at every look and now; a look before the first segment, or two at once, cut nothing."""
    ends = stretch_ends([0, 2, 4, 4], 7)

    assert ends == [2, 4, 7]
    assert lengths(ends).tolist() == [2, 2, 3]
    assert stretch_ends([], 0) == []
    assert lengths([]).size == 0


def test_a_look_after_every_segment_gives_the_plain_process() -> None:
    """With a look after each segment the logarithms are SciPy's recursive filter of the shocks."""
    unknowns = np.random.default_rng(1).standard_normal((5, 12))
    shocks = PACE_SPREAD * unknowns
    shocks[:, 1:] *= math.sqrt(1 - KEPT**2)

    assert wander(unknowns, range(1, 13)) == pytest.approx(lfilter([1.0], [1.0, -KEPT], shocks))


def test_the_spread_is_the_same_however_far_apart_the_looks_are() -> None:
    """In every stretch the pace has the same spread, and neighbours are alike by what they keep."""
    logs = wander(np.random.default_rng(2).standard_normal((40_000, 3)), [3, 4, 10])

    assert logs.std(axis=0) == pytest.approx(PACE_SPREAD, rel=0.02)
    assert np.corrcoef(logs.T)[0, 1] == pytest.approx(KEPT, abs=0.02)
    assert np.corrcoef(logs.T)[1, 2] == pytest.approx(KEPT**6, abs=0.02)


def test_the_pace_to_come_is_the_mean_of_the_process_gone_on() -> None:
    """Middle and spread of the next segments' mean are those of 40 000 paths drawn step by step."""
    luck = np.random.default_rng(3)
    path = np.full((40_000, 1), 0.1)
    for _ in range(6):
        shock = PACE_SPREAD * math.sqrt(1 - KEPT**2) * luck.standard_normal((len(path), 1))
        path = np.hstack((path, KEPT * path[:, -1:] + shock))
    drawn, told = path[:, 1:].mean(axis=1), np.log(to_come(np.full(40_000, 0.1), 6, luck))

    assert told.mean() == pytest.approx(drawn.mean(), abs=0.002)
    assert told.std() == pytest.approx(drawn.std(), rel=0.02)


def test_the_far_future_forgets_a_fast_spell() -> None:
    """A fast spell shows in the next segment and hardly in the mean of the next hundred."""
    fast = np.full(2000, 0.2)
    luck = np.random.default_rng(4)

    assert np.median(to_come(fast, 1, luck)) > 1.12
    assert np.median(to_come(fast, 100, luck)) < 1.03
    for endless in (1e9, np.inf, np.nan):
        assert np.isfinite(to_come(fast, endless, luck)).all()
