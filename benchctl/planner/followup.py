"""Did a change do what was predicted: its effect by ring as the looks since have it, and the error learned.

What was known before the change says what the glass would show at each effect; the looks after it say which
effects fit. With few looks most do, and then that is what is said. What is known of all zones alike (pace,
damage) cancels only in part, so a single look seldom tells a change of a tenth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchctl.models.inspection import ZoneLook
from benchctl.planner.advice import EFFECT_DOUBT
from benchctl.planner.depth import RING_NAMES, RINGS
from benchctl.planner.history import Decided, Look
from benchctl.planner.pits import Array
from benchctl.planner.progress import SIGMAS, ZONES, Range, Reckoning
from benchctl.planner.scores import gather

_EFFECTS = np.linspace(-0.6, 0.6, 25)
"""Logarithms of the depth of a segment after the change over that before it, beside what was predicted."""
_EFFECT_SPREAD = 0.25
"""One sigma of them before any look (judgement)."""
_STEADY = 8.0
"""How many looked-at effects the doubt taken at first is worth."""
_TELLING, _WORST = 0.03, 2.0
"""An effect predicted smaller teaches nothing; a miss counts as at most so many times the effect."""


@dataclass(frozen=True)
class Followup:
    """One decision looked back on. Effects: depth of a segment more or less (0.1 = 10 % more), by ring;
    `seen` and `verdict` are empty where no look came after it."""

    decision: str
    after: int
    predicted: tuple[float, ...]
    seen: list[Range]
    verdict: list[str]

    @property
    def words(self) -> str:
        """One sentence."""
        if not self.predicted:
            return f"{self.decision}: no effect by zone was predicted."
        if not self.seen:
            return f"{self.decision}: nobody has looked at the glass since."
        told = [
            f"zone {name} predicted {said:+.0%}, seen {seen.low:+.0%} to {seen.high:+.0%} ({verdict})"
            for name, said, seen, verdict in zip(
                RING_NAMES[:ZONES], self.predicted, self.seen, self.verdict, strict=False
            )
        ]
        return f"{self.decision}: {'; '.join(told)}."


def look_back(reckoning: Reckoning) -> list[Followup]:
    """Every decision that was followed, with what was seen until the next one."""
    decisions = [one for one in reckoning.history.decisions if one.followed]
    ends = [*(one.after for one in decisions[1:]), reckoning.history.done][: len(decisions)]
    return [_one(reckoning, one, end) for one, end in zip(decisions, ends, strict=True)]


def _one(reckoning: Reckoning, decision: Decided, until: int) -> Followup:
    predicted = predicted_effect(decision)
    words = str(decision.fields.get("decision") or decision.act)
    looks = [look for look in reckoning.history.looks if decision.after < look.after <= until]
    if not predicted or not looks:
        return Followup(words, decision.after, predicted, [], [])
    seen = _seen(reckoning, decision.after, looks)
    verdict = [_verdict(one, two) for one, two in zip(predicted, seen, strict=False)]
    return Followup(words, decision.after, predicted, seen, verdict)


def predicted_effect(decision: Decided) -> tuple[float, ...]:
    """The effect by ring that the decision's record has; empty where it has none."""
    predicted = decision.fields.get("predicted")
    if not isinstance(predicted, dict) or not isinstance(predicted.get("zones"), list | tuple):
        return ()
    zones = [float(one) for one in predicted["zones"]]
    edge = predicted.get("edge")
    return (*zones, float(edge)) if isinstance(edge, int | float) else tuple(zones)


def _verdict(predicted: float, seen: Range) -> str:
    if seen.low <= predicted <= seen.high:
        return "as predicted" if seen.high - seen.low <= 2 * abs(predicted) else "cannot tell yet"
    return "less than predicted" if seen.high < predicted else "more than predicted"


def _seen(reckoning: Reckoning, after: int, looks: Sequence[Look]) -> list[Range]:
    """Effect by ring, 10, 50, 90 %: against a segment as it was just before the change."""
    history = reckoning.history.until(after)
    before = Reckoning(reckoning.job, history, reckoning.prior, reckoning.depths)
    basis = before.by_segment[-1] if after else reckoning.by_segment[0]
    depths = np.cumsum(reckoning.by_segment[after:], axis=0)[[look.after - after - 1 for look in looks]]
    found = []
    for ring in range(RINGS):
        chance = _chances(before, looks, depths, ring)
        mean_after = depths[-1, ring] / (looks[-1].after - after)
        shift = math.log(mean_after / basis[ring])
        found.append(_range(chance, shift))
    return found


def _chances(before: Reckoning, looks: Sequence[Look], depths: Array, ring: int) -> Array:
    """How well each of _EFFECTS fits what this ring showed, prior included; sums to 1."""
    scores = gather([_only(look, ring) for look in looks])
    truths, per_pa = before.truths, before.job.preston_per_pa
    start = before.taken_m.sum(axis=1, keepdims=True)
    since = truths.depth_m(depths, per_pa) * before.pace[:, :, None]
    logs = []
    for effect in _EFFECTS:
        depth = start + since * math.exp(effect)
        fit = scores.log_likelihood(truths, depth) if scores.any else np.zeros(len(start))
        logs.append(float(np.logaddexp.reduce(fit)) - 0.5 * (effect / _EFFECT_SPREAD) ** 2)
    weights = np.exp(np.array(logs) - max(logs))
    return np.asarray(weights / weights.sum())


def _only(look: Look, ring: int) -> Look:
    blank = tuple(seen if place == ring else ZoneLook() for place, seen in enumerate(look.rings))
    return replace(look, rings=blank)


def _range(chance: Array, shift: float) -> Range:
    sums = np.cumsum(chance)
    low, likely, high = (float(np.interp(part, sums, _EFFECTS)) for part in (0.1, 0.5, 0.9))
    return Range(*(math.exp(one + shift) - 1.0 for one in (low, likely, high)))


def doubt(followups: Sequence[Followup]) -> float:
    """How far an effect may be off, as a share of itself, from what earlier changes did (1 sigma).

    The doubt taken at first counts for eight effects; each effect seen adds its miss, over what was
    predicted, less the width of what was seen.
    """
    squares, count = _STEADY * EFFECT_DOUBT**2, _STEADY
    for one in followups:
        for predicted, seen in zip(one.predicted, one.seen, strict=False):
            if abs(predicted) < _TELLING:
                continue
            sigma = (seen.high - seen.low) / (2 * SIGMAS)
            miss = max((seen.likely - predicted) ** 2 - sigma**2, 0.0)
            weight = min(1.0, (predicted / sigma) ** 2) if sigma > 0.0 else 1.0
            squares, count = squares + weight * min(miss / predicted**2, _WORST**2), count + weight
    return math.sqrt(squares / count)
