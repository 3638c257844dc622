"""What the planner does not know of a mirror, and what it takes for likely before the first look.

Each unknown is a logarithm with a middle and a spread, and a particle is a row of them in units of its
spread. `Truths` gives them their names back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchctl.planner.depth import RINGS
from benchctl.planner.pits import Array, clear_part

DEPTH_OF_GRAIN = 1.2
"""Median of the cut-off depth over the last abrasive's size (judgement, from published damage depths)."""
DEPTH_SPREAD = math.log(1.45)
PRESTON_SPREAD = math.log(1.32)
"""One sigma of a coefficient from a table: the 80 % range is then a factor of 1.4 either way (judgement;
handbook and hobby values of one glass lie within a factor of two of their middle, from memory)."""
TILT_SPREAD, RING_SPREAD, EDGE_SPREAD = 0.18, 0.06, 0.20
"""Removal beside the mechanics: a slope from hole to rim, each ring by itself, the last 5 mm (judgement; the
neutral place is known to 3 % of the diameter, derived, which is a slope of that size)."""
LENGTH, LENGTH_SPREAD = 0.27, 0.28
"""Length of the exponential over the cut-off depth: 0.15 to 0.5 (judgement)."""
PITS, PITS_SPREAD = 400.0, 0.8
"""Pits a field of 20 mm on the ground surface (judgement: far more than can be counted)."""
TASTE_SPREAD = 0.2
GREY_NOISE, GREY_NOISE_SPREAD = 0.5, 0.35
SHAPE, SHAPE_SPREAD = 6.0, 0.5
"""Clustering of pits: 6 is a spread of 40 % beside Poisson's (judgement)."""
SPOT_SPREAD = 0.7
SOFTNESS_SPREAD = 0.25
SCALARS = 9
SIZE = SCALARS + 1 + RINGS


@dataclass(frozen=True)
class Prior:
    """What is taken for likely: Preston coefficient with its spread (1 sigma of the natural logarithm)."""

    preston_per_pa: float
    preston_spread: float
    last_abrasive_m: float


@dataclass(frozen=True)
class Truths:
    """Particles by name, each an array of one value a particle; `factors` a column a ring."""

    preston_per_pa: Array
    cut_off_m: Array
    factors: Array
    length: Array
    softness: Array
    pits: Array
    taste: Array
    grey_noise: Array
    shape: Array
    spot: Array

    @property
    def clear_part(self) -> Array:
        """Part of the cut-off depth at which a ring is clear."""
        return clear_part(self.pits, self.length, self.softness)

    @property
    def clear_m(self) -> Array:
        """Depth at which a ring is clear, metres."""
        return self.clear_part * self.cut_off_m

    def depth_m(self, depths_m: Array, per_pa: float) -> Array:
        """Depth taken by ring, where the mechanics say `depths_m` with a coefficient of `per_pa`.

        `depths_m` ends in a column a ring; the result has the particles in front.
        """
        scale = self.factors * (self.preston_per_pa / per_pa)[:, None]
        return np.asarray(np.expand_dims(scale, tuple(range(1, depths_m.ndim))) * depths_m)


def named(cloud: Array, prior: Prior) -> Truths:
    """Particles in units of the prior's spread, as what they stand for."""
    k, c, q, h, n, taste, noise, shape, spot = cloud[:, :SCALARS].T
    slope, rings = cloud[:, SCALARS], cloud[:, SCALARS + 1 :]
    across = np.linspace(-1.0, 1.0, RINGS)
    own = np.array([RING_SPREAD] * (RINGS - 1) + [EDGE_SPREAD])
    return Truths(
        preston_per_pa=prior.preston_per_pa * np.exp(prior.preston_spread * k),
        cut_off_m=DEPTH_OF_GRAIN * prior.last_abrasive_m * np.exp(DEPTH_SPREAD * c),
        factors=np.exp(TILT_SPREAD * slope[:, None] * across + own * rings),
        length=LENGTH * np.exp(LENGTH_SPREAD * q),
        softness=np.exp(SOFTNESS_SPREAD * h),
        pits=PITS * np.exp(PITS_SPREAD * n),
        taste=np.exp(TASTE_SPREAD * taste),
        grey_noise=GREY_NOISE * np.exp(GREY_NOISE_SPREAD * noise),
        shape=SHAPE * np.exp(SHAPE_SPREAD * shape),
        spot=np.exp(SPOT_SPREAD * spot),
    )
