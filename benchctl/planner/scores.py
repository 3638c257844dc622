"""How likely the scores of the looks are, for each possible truth: grey, pits, laser spot.

Grey 0 to 10 is the share of pits left, to a person's own taste (a power), with logistic noise and rounded to
steps. A count of pits is negative binomial, "too many" a count above 50. The spot's four words are steps of
the logarithm of the pits left, with noise. Fields of one zone share its clusters, so three of them are worth
less than three (design effect, Kish 1965, from memory). All thresholds are judgements.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from benchctl.models.inspection import PITS_COUNTABLE
from benchctl.planner.history import Look
from benchctl.planner.pits import Array, counts_log_chance, log_share_left, too_many_log_chance
from benchctl.planner.truths import Truths

DUST = 0.03
"""Specks taken for pits, a field (judgement)."""
FIELDS_ALIKE = 0.2
"""Correlation of the counts of one zone's fields (judgement)."""
SPOT_STEPS = (0.2, 3.0, 30.0)
"""Pits a field from which the spot is just seen, fainter, as bright (judgement: it is very sensitive)."""
SPOT_NOISE = 0.25
"""Scale of the logistic of the spot's logarithm: a standard deviation of 0.45 (judgement)."""
GREY_WEIGHT, FAINT_WEIGHT, PITS_WEIGHT, SPOTS_WEIGHT = 1.0, 0.3, 1.0, 0.8
"""What a score counts of its log-likelihood; set so that ranges hold (decision 0802)."""
FAINT = 1.5
"""Grey below this is faint: what is left of it is taste more than pits."""
_LEAST = math.log(1e-9)
"""Share of pits that is taken for none, as a logarithm."""
_FAR = 80.0
"""Logarithm of odds that are as good as certain."""
_LOGISTIC = math.sqrt(3.0) / math.pi
"""Scale of a logistic over its standard deviation."""

Index = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Scores:
    """All scores in rows: where each was taken (a place: look and ring) and what it says.

    A grey score stands for all between `grey_low` and `grey_high`; a spot for all levels between two of
    SPOT_STEPS, kept as odds at the level 1 (`spot_low`, `spot_high`).
    Counts are summed by place, each field by its weight: how many `fields`, and the `total` of pits in them;
    `tally` says how many of all fields have each count, 0 to 50.
    """

    grey_at: Index
    grey_low: Array
    grey_high: Array
    grey_weight: Array
    counts_at: Index
    fields: Array
    total: Array
    tally: Array
    many_at: Index
    many_weight: Array
    spots_at: Index
    spot_low: Array
    spot_high: Array

    @property
    def any(self) -> bool:
        return bool(self.grey_at.size + self.counts_at.size + self.many_at.size + self.spots_at.size)

    def log_likelihood(self, truths: Truths, depth_m: Array) -> Array:
        """ln of the chance of all scores, a value a particle; `depth_m` is particles x looks x rings."""
        part = depth_m / truths.cut_off_m[:, None, None]
        share = log_share_left(part, truths.length[:, None, None], truths.softness[:, None, None])
        share = np.maximum(share.reshape(len(part), -1), _LEAST)
        return (
            self._grey(truths, share[:, self.grey_at])
            + PITS_WEIGHT * self._pits(truths, truths.pits[:, None] * np.exp(share))
            + SPOTS_WEIGHT * self._spots(truths, share[:, self.spots_at])
        )

    def _grey(self, truths: Truths, log_share: Array) -> Array:
        true = 10.0 * np.exp(truths.taste[:, None] * log_share)
        scale = _LOGISTIC * truths.grey_noise[:, None] * (0.3 + 0.7 * np.sqrt(true / 10.0))
        above = np.exp(np.minimum((true - self.grey_high) / scale, _FAR))
        below = np.exp(np.minimum((true - self.grey_low) / scale, _FAR))
        return np.asarray(_log_between(below, above) @ self.grey_weight)

    def _pits(self, truths: Truths, pits: Array) -> Array:
        found = np.zeros(len(pits))
        if self.counts_at.size:
            mean = pits[:, self.counts_at] + DUST
            found = found + counts_log_chance(self.tally, self.fields, self.total, mean, truths.shape)
        if self.many_at.size:
            chance = too_many_log_chance(pits[:, self.many_at] + DUST, truths.shape)
            found = found + chance @ self.many_weight
        return found

    def _spots(self, truths: Truths, log_share: Array) -> Array:
        level = (np.log(truths.pits * truths.spot)[:, None] + log_share) / SPOT_NOISE
        level = np.exp(np.clip(level, -_FAR, _FAR))
        return np.asarray(_log_between(level * self.spot_low, level * self.spot_high).sum(axis=1))


def _log_between(below: Array, above: Array) -> Array:
    """ln of a logistic's chance between two bounds, each given as the odds of lying above it; with a floor
    for slips."""
    return np.asarray(np.log(0.99 * (1.0 / (1.0 + above) - 1.0 / (1.0 + below)) + 0.001))


def gather(looks: Sequence[Look]) -> Scores:
    """The scores of some looks, in rows."""
    grey: list[tuple[int, float]] = []
    counted: list[tuple[int, float, float]] = []
    many: list[tuple[int, float]] = []
    spots: list[tuple[int, int]] = []
    tally = np.zeros(PITS_COUNTABLE + 1)
    for number, look in enumerate(looks):
        for ring, seen in enumerate(look.rings):
            at = number * len(look.rings) + ring
            if seen.grey is not None:
                grey.append((at, seen.grey))
            fields = seen.pits or ()
            weight = 1.0 / (1.0 + (len(fields) - 1) * FIELDS_ALIKE)
            counts = [one for one in fields if isinstance(one, int)]
            if counts:
                counted.append((at, weight * len(counts), weight * sum(counts)))
                np.add.at(tally, counts, weight)
            if len(counts) < len(fields):
                many.append((at, weight * (len(fields) - len(counts))))
            if seen.laser_spot is not None:
                spots.append((at, seen.laser_spot))
    score = np.array([score for _, score in grey])
    half_step = 0.5 if (score == np.round(score)).all() else 0.25
    steps = np.array([0.0, *SPOT_STEPS, np.inf])
    spot = np.array([spot for _, spot in spots], dtype=np.intp)
    with np.errstate(divide="ignore"):
        odds = np.power(steps, -1.0 / SPOT_NOISE)
    return Scores(
        grey_at=_places(grey),
        grey_low=_row(np.where(score <= 0.0, -np.inf, score - half_step)),
        grey_high=_row(np.where(score >= 10.0, np.inf, score + half_step)),
        grey_weight=_row(np.where(score < FAINT, FAINT_WEIGHT, GREY_WEIGHT)),
        counts_at=_places(counted),
        fields=_row([fields for _, fields, _ in counted]),
        total=_row([total for *_, total in counted]),
        tally=_row(tally),
        many_at=_places(many),
        many_weight=_row([weight for _, weight in many]),
        spots_at=_places(spots),
        spot_low=_row(odds[spot]),
        spot_high=_row(odds[spot + 1]),
    )


def _row(values: npt.ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float64)


def _places(rows: Sequence[tuple[float, ...]]) -> Index:
    return np.array([row[0] for row in rows], dtype=np.intp)
