"""Which move of the post lets the last zone finish soonest, and whether it is worth making.

Each truth goes on with the post at each offset tried; what counts is when its last zone is clear. Zones share
what is not known of them all (coefficient, depth of damage), so the comparison is firmer than the ranges
themselves. The mechanics' change per millimetre is the firm figure; it is given a doubt all the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchctl.errors import BadInput
from benchctl.planner.depth import RING_NAMES, RINGS
from benchctl.planner.progress import ZONES, Range, Reckoning
from benchctl.planner.what_if import last_of, last_zone, range_of

MOST_OF_RADIUS = 0.025
"""No move is farther than this share of the mirror's radius."""
STEP_M = 0.001
DOUBTED = 15.0
"""The move is chosen by what it saves at least in all but so many of 100 truths; that must not be below 0."""
WORTH_SEGMENTS, WORTH_SHARE = 0.6, 0.03
"""Least gain to suggest a move for: segments, and share of what is left."""
_TRIES = 9


@dataclass(frozen=True)
class Move:
    """A move of the post by `by_m` (outward above 0) to `offset_m`, and what it does to the last zone."""

    by_m: float
    offset_m: float
    saves: Range
    last_zone: str
    first_zone: str
    last_now: Range
    first_now: float
    gain: float
    """More depth a segment for the zone that is last now, as a share."""


def best_move(reckoning: Reckoning, doubt: float) -> Move | None:
    """The move that saves most, if it is worth it. `doubt`: of an effect, as a share of itself (1 sigma)."""
    now = reckoning.segments_left()
    lasts = last_of(now)
    worth = max(WORTH_SEGMENTS, WORTH_SHARE * float(np.median(lasts)))
    if float(np.median(lasts)) <= worth:
        return None
    here = reckoning.model_depth(reckoning.settings)
    luck = np.random.Generator(np.random.PCG64(1904))
    slack = 1.0 + doubt * luck.standard_normal((len(now), 1))
    best: tuple[float, float, np.ndarray, np.ndarray] | None = None
    for by_m in _tries(reckoning):
        effect = _effect(reckoning, by_m, here)
        if effect is None:
            continue
        there = now / np.exp(np.log(effect) * slack)
        saved = lasts - last_of(there)
        sure = float(np.percentile(saved, DOUBTED))
        if best is None or sure > best[0]:
            best = (sure, by_m, saved, effect)
    if best is None or best[0] <= 0.0 or best[2].mean() < worth:
        return None
    return _move(reckoning, now, best[1], best[2], best[3])


def _tries(reckoning: Reckoning) -> list[float]:
    """Moves to try, whole millimetres either way."""
    most = MOST_OF_RADIUS * reckoning.job.mirror.radius_m
    steps = np.unique(np.round(np.linspace(-most, most, 2 * _TRIES + 1) / STEP_M))
    return [float(step) * STEP_M for step in steps if step != 0]


def _effect(reckoning: Reckoning, by_m: float, here: np.ndarray) -> np.ndarray | None:
    """Depth a segment there over depth here, by ring; None where the lap would miss the glass or lift."""
    settings = replace(reckoning.settings, post_offset_m=reckoning.settings.post_offset_m + by_m)
    if settings.post_offset_m <= 0.0:
        return None
    try:
        if settings.post_offset_m > _farthest_out_m(reckoning) and reckoning.depths.lifts(
            settings.post_offset_m
        ):
            return None
        return np.asarray(reckoning.model_depth(settings) / here)
    except BadInput:
        return None


def _farthest_out_m(reckoning: Reckoning) -> float:
    """Where the lap has already run on this mirror, a model that lets it lift there has no say."""
    return max([0.0, *(one.post_offset_m for one in reckoning.history.segments)]) + STEP_M / 2


def _move(reckoning: Reckoning, now: np.ndarray, by_m: float, saved: np.ndarray, effect: np.ndarray) -> Move:
    middles = np.median(now[:, :ZONES], axis=0)
    last = RING_NAMES.index(last_zone(now))
    first = int(middles.argmin())
    assert effect.size == RINGS
    return Move(
        by_m=by_m,
        offset_m=reckoning.settings.post_offset_m + by_m,
        saves=range_of(saved),
        last_zone=RING_NAMES[last],
        first_zone=RING_NAMES[first],
        last_now=range_of(now[:, last]),
        first_now=float(middles[first]),
        gain=float(effect[last] - 1.0),
    )
