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
"""Correlation of the counts of one zone's fields."""
SPOT_STEPS = (0.2, 3.0, 30.0)
"""Pits a field from which the spot is just seen, fainter, as bright (judgement: it is very sensitive)."""
SPOT_NOISE = 0.25
GREY_WEIGHT, FAINT_WEIGHT, PITS_WEIGHT, SPOTS_WEIGHT = 0.6, 0.1, 1.0, 0.8
FAINT = 1.5
_LEAST = math.log(1e-9)
"""Share of pits that is taken for none, as a logarithm."""
_LOGISTIC = math.sqrt(3.0) / math.pi

Index = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Scores:
    """All scores in rows: where each was taken (a place: look and ring) and what it says.

    Counts are summed by place, each field by its weight: how many `fields`, and the `total` of pits in them;
    `tally` says how many of all fields have each count, 0 to 50.
    """

    looks: int
    grey_at: Index
    grey: Array
    half_step: float
    counts_at: Index
    fields: Array
    total: Array
    tally: Array
    many_at: Index
    many_weight: Array
    spots_at: Index
    spots: Index

    @property
    def any(self) -> bool:
        return bool(self.grey.size + self.counts_at.size + self.many_at.size + self.spots.size)

    def log_likelihood(self, truths: Truths, depth_m: Array) -> Array:
        """ln of the chance of all scores, a value a particle; `depth_m` is particles x looks x rings."""
        part = depth_m / truths.cut_off_m[:, None, None]
        share = log_share_left(part, truths.length[:, None, None], truths.softness[:, None, None])
        share = np.maximum(share.reshape(len(part), -1), _LEAST)
        pits = truths.pits[:, None] * np.exp(share)
        return (
            self._grey(truths, share[:, self.grey_at])
            + PITS_WEIGHT * self._pits(truths, pits)
            + SPOTS_WEIGHT * self._spots(truths, pits[:, self.spots_at])
        )

    def _grey(self, truths: Truths, log_share: Array) -> Array:
        true = 10.0 * np.exp(truths.taste[:, None] * log_share)
        scale = _LOGISTIC * truths.grey_noise[:, None] * (0.3 + 0.7 * np.sqrt(true / 10.0))
        low = np.where(self.grey <= 0.0, -np.inf, self.grey - self.half_step)
        high = np.where(self.grey >= 10.0, np.inf, self.grey + self.half_step)
        weight = np.where(self.grey < FAINT, FAINT_WEIGHT, GREY_WEIGHT)
        return np.asarray(_log_between((low - true) / scale, (high - true) / scale) @ weight)

    def _pits(self, truths: Truths, pits: Array) -> Array:
        found = np.zeros(len(pits))
        if self.counts_at.size:
            mean = pits[:, self.counts_at] + DUST
            found = found + counts_log_chance(self.tally, self.fields, self.total, mean, truths.shape)
        if self.many_at.size:
            chance = too_many_log_chance(pits[:, self.many_at] + DUST, truths.shape)
            found = found + chance @ self.many_weight
        return found

    def _spots(self, truths: Truths, pits: Array) -> Array:
        level = np.log(pits * truths.spot[:, None])
        steps = np.array([-np.inf, *np.log(SPOT_STEPS), np.inf])
        low, high = steps[self.spots] - level, steps[self.spots + 1] - level
        return np.asarray(_log_between(low / SPOT_NOISE, high / SPOT_NOISE).sum(axis=1))


def _log_between(low: Array, high: Array) -> Array:
    """ln of a logistic's chance between two bounds, with a floor for slips."""
    with np.errstate(over="ignore"):
        chance = 1.0 / (1.0 + np.exp(-high)) - 1.0 / (1.0 + np.exp(-low))
    return np.asarray(np.log(0.99 * chance + 0.001))


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
    whole = all(score == round(score) for _, score in grey)
    return Scores(
        looks=len(looks),
        grey_at=_places(grey),
        grey=np.array([score for _, score in grey]),
        half_step=0.5 if whole else 0.25,
        counts_at=_places(counted),
        fields=np.array([fields for _, fields, _ in counted]),
        total=np.array([total for *_, total in counted]),
        tally=tally,
        many_at=_places(many),
        many_weight=np.array([weight for _, weight in many]),
        spots_at=_places(spots),
        spots=np.array([spot for _, spot in spots], dtype=np.intp),
    )


def _places(rows: Sequence[tuple[float, ...]]) -> Index:
    return np.array([row[0] for row in rows], dtype=np.intp)
