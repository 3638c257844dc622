"""Pits left in ground glass as it is polished down, and how likely a count of them is.

Depth of damage: cracks follow one exponential with a cut-off depth c (W. Suratwala et al., J. Non-Cryst.
Solids 352, 2006, fused silica; abstract read; journal from memory). The share of pits deeper than the depth
d removed, x = d/c and q = length/c, is then
    G(x) = ((exp(-x/q) - exp(-1/q)) / (1 - exp(-1/q)))^h,  0 from x = 1 on,
with h = 1 for the law as published. The end of the damage is not the same everywhere under the loupe, so its
softness h is left open around 1 (judgement).
Counts in fields of a loupe scatter more than Poisson's law, because pits come in clusters: they are taken as
negative binomial with mean m and shape r (variance m + m^2/r; r without end is Poisson). "Too many" is a
count above 50: it is used as just that. The tail has no closed form in plain numpy; it is summed once over
a grid and read off (its logarithm within 0.06; checked against SciPy).
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import numpy.typing as npt

from benchctl.models.inspection import PITS_COUNTABLE

Array = npt.NDArray[np.float64]
CLEAR_PITS = 0.1
"""A ring is clear when fewer pits than this are left in a field of the loupe: one in ten fields of 20 mm,
0.03 a cm2. None in three fields, the most that is looked at, says fewer than 0.3 a cm2 (rule of three)."""
_LOG_MEANS = np.linspace(-3.0, 9.0, 97)
_LOG_SHAPES = np.linspace(math.log(0.3), math.log(300.0), 41)
_COMPLEMENT_ABOVE, _FAR = 20.0, 600


def log_share_left(part: Array, length: Array, softness: Array) -> Array:
    """ln G: of the share of pits left after a part x of the cut-off depth, at a length q over the cut-off."""
    end = np.exp(-1.0 / length)
    with np.errstate(divide="ignore"):
        return np.asarray(softness * np.log(np.maximum(np.exp(-part / length) - end, 0.0) / (1.0 - end)))


def share_left(part: Array, length: Array, softness: Array) -> Array:
    """G: share of the pits left, 0 from x = 1 on; arguments as of `log_share_left`."""
    return np.asarray(np.exp(log_share_left(part, length, softness)))


def clear_part(pits: Array, length: Array, softness: Array) -> Array:
    """The part x at which CLEAR_PITS of `pits` a field are left; G solved for x."""
    share = np.minimum(CLEAR_PITS / pits, 1.0) ** (1.0 / softness)
    end = np.exp(-1.0 / length)
    return np.asarray(-length * np.log(share * (1.0 - end) + end))


def counts_log_chance(tally: Array, fields: Array, total: Array, mean: Array, shape: Array) -> Array:
    """ln of the chance of all counts (0 to 50 each), a value a shape.

    `mean`: pits a field, a row a shape and a column a place. `tally`: how many fields have each count, 0
    to 50; `fields`, `total`: fields counted and pits found in them, by place. All three may be weighted.
    """
    steps = np.arange(PITS_COUNTABLE, dtype=float)
    rising = np.log((shape[:, None] + steps) / (steps + 1))  # of r (r + 1) ... (r + k - 1) / k!, step by step
    beyond = tally.sum() - np.cumsum(tally)[:-1]
    whole = np.log(shape[:, None] + mean)
    clustered = shape * (np.log(shape) * fields.sum() - whole @ fields)
    return np.asarray(rising @ beyond + clustered + (np.log(mean) - whole) @ total)


def too_many_log_chance(mean: Array, shape: Array) -> Array:
    """ln of the chance of more than 50 pits. `mean` has a row a shape."""
    table = _tail_table()
    across, across_i = _place(np.log(mean), _LOG_MEANS)
    down, down_i = _place(np.log(shape)[:, None], _LOG_SHAPES)
    upper = table[down_i, across_i] * (1 - across) + table[down_i, across_i + 1] * across
    lower = table[down_i + 1, across_i] * (1 - across) + table[down_i + 1, across_i + 1] * across
    return np.asarray(upper * (1 - down) + lower * down)


def _place(values: Array, grid: Array) -> tuple[Array, npt.NDArray[np.intp]]:
    """How far each value lies between two points of an even grid, and which."""
    where = np.clip((values - grid[0]) / (grid[1] - grid[0]), 0.0, grid.size - 1.000001)
    index = where.astype(np.intp)
    return where - index, index


@cache
def _tail_table() -> Array:
    """ln P(more than 50), shapes down, means across: what 0 to 50 leave, or the sum itself where small."""
    shape, mean = np.exp(_LOG_SHAPES)[:, None, None], np.exp(_LOG_MEANS)[None, :, None]
    steps = np.arange(_FAR, dtype=float)
    rising = np.cumsum(np.log(shape + steps) - np.log(steps + 1.0), axis=2)
    whole, counts = np.log(shape + mean), steps + 1.0
    logs = rising + shape * (np.log(shape) - whole) + counts * (np.log(mean) - whole)
    none = shape[:, :, 0] * (np.log(shape) - whole)[:, :, 0]
    few = np.exp(none) + np.exp(logs[:, :, :PITS_COUNTABLE]).sum(axis=2)
    far = np.logaddexp.reduce(logs[:, :, PITS_COUNTABLE:], axis=2)
    rest = np.log1p(-np.minimum(few, 1.0 - 1e-12))
    return np.asarray(np.where(mean[:, :, 0] > _COMPLEMENT_ABOVE, rest, far))
