"""How the pace wanders: what a segment truly takes over what it should, by charge, lap and room.

The logarithm of the pace is taken as a first-order autoregressive process about 0: a fast spell is
followed by segments that are still fast, less and less so. Looks cut the work into stretches; nothing tells
the segments of a stretch apart, and one pace is taken for all of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from benchctl.planner.pits import Array

PACE_SPREAD = 0.08
"""Of the logarithm, one sigma (judgement)."""
MEMORY_SEGMENTS = 5.0
"""After so many segments an e-th part of a fast spell is left (judgement: a charge, a trim, an evening)."""

MOST_AHEAD = 100
"""Segments; the mean pace of more differs from that of these by nothing that could be told."""


def stretch_ends(looks_after: Iterable[int], done: int) -> list[int]:
    """Segments done at the end of each stretch: at every look, and now."""
    return sorted({*looks_after, done} - {0})


def lengths(ends: Sequence[int]) -> npt.NDArray[np.intp]:
    """How many segments each stretch has."""
    return np.asarray(np.diff(np.array([0, *ends], dtype=np.intp)), dtype=np.intp)


def wander(unknowns: Array, ends: Sequence[int]) -> Array:
    """Logarithm of the pace, particles x stretches, from as many standard normal unknowns."""
    kept = np.exp(-lengths(ends) / MEMORY_SEGMENTS)
    logs = PACE_SPREAD * np.asarray(unknowns, dtype=float)
    for at in range(1, len(ends)):
        logs[:, at] = kept[at] * logs[:, at - 1] + math.sqrt(1.0 - kept[at] ** 2) * logs[:, at]
    return logs


def to_come(now: Array, segments: float, luck: np.random.Generator) -> Array:
    """Mean pace of the next `segments`, a value a particle, where its logarithm now is `now`."""
    ahead = np.arange(1, round(min(max(1.0, segments), MOST_AHEAD)) + 1)
    kept = math.exp(-1.0 / MEMORY_SEGMENTS)
    covariance = kept ** abs(ahead[:, None] - ahead) - kept ** (ahead[:, None] + ahead)
    spread = PACE_SPREAD * math.sqrt(float(covariance.mean()))
    return np.asarray(np.exp((kept**ahead).mean() * now + spread * luck.standard_normal(now.size)))
