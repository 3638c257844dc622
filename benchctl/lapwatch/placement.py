"""Where the targets sit: spacing learned from whole turns, and the fit of a row of pulses to a known spacing.

One pickup cannot tell uneven targets from a jerk that comes once a turn and was there from the start, so
spacing is learned in a smooth spin and kept.
"""

from __future__ import annotations

import math
from statistics import median
from typing import NamedTuple

from benchctl.lapwatch.edges import BOUNCE_S

LONGEST = 16
"""Most gaps that one wait for a pulse may span."""
PLACE_SD = 0.0025
"""Lap turns (0.9 degrees) by which learned placement is usually off."""
NARROW = 0.35
"""A gap below this share of the usual one is too short to judge speed by; it is judged with the next."""
FIT_SPREAD = 0.08
"""Scatter of log speed from gap to gap that a fit calls usual."""
MERGED_FROM = 5
MERGED_AFTER, MOST_EXTRA = 5.5, 0.03
"""With so many targets or more, after so many turns, and with hardly an edge left over, one less is tried."""
MOST_TRIES, MOST_ALIKE, GOOD_ENOUGH = 12, 5, 0.3
SHORTEST_TURN = 0.93
"""Mirror turns: the lap cannot be faster than the mirror, but for wander and errors."""
COST_LOST, COST_LOST_WEAK = 4.0, 1.0
"""Nats for a lost target: usually, and with a weak pickup."""
COST_EXTRA = 3.0
COST_WORST = 8.0
LEAST_HARMONIC, WORST_PLACEMENT = 0.25, 0.175
"""Radians: targets scattered by 10 degrees seem a once-per-turn jerk of 0.175 sqrt(2 / count) rms."""


HIDDEN_S = 0.005


class Spans:
    """Lap turns from each target to those that follow: `rows[target][m]` spans m gaps.

    `noise2[target]` is the variance that an uncertain placement gives the log speed of the next gap.
    """

    def __init__(self, widths: tuple[float, ...]) -> None:
        n = len(widths)
        self.count = n
        self.widths = widths
        """Gap before each target: `widths[k]` lies between targets k-1 and k."""
        self.longest = min(LONGEST, max(2 * n, 8))
        self.rows: list[list[float]] = []
        for target in range(n):
            row, total = [0.0], 0.0
            for m in range(1, self.longest + 1):
                total += widths[(target + m) % n]
                row.append(total)
            self.rows.append(row)
        self.narrow = NARROW / n if n > 1 else 0.0
        self.apart2 = [math.log(row[2] / row[1]) ** 2 for row in self.rows]
        """Square of the log ratio between taking the next target for the one after it."""
        self.noise2 = [(PLACE_SD / row[1]) ** 2 for row in self.rows] if n > 1 else [0.0]

    def lost(self, target: int, gaps: int, seconds_per_turn: float) -> int:
        """Targets lost in a wait of so many gaps, but for those that bounce hides right after another."""
        widths, n = self.widths, self.count
        return sum(
            1 for m in range(1, gaps) if widths[(target + m) % n] * seconds_per_turn > BOUNCE_S + HIDDEN_S
        )

    @classmethod
    def even(cls, count: int) -> Spans:
        """Targets at equal distances."""
        return cls((1.0 / count,) * count)


class Step(NamedTuple):
    """One pulse read as a target: its place in the row of pulses, its unwrapped number, log of the ratio."""

    pulse: int
    number: int
    log_ratio: float


class Fit(NamedTuple):
    """A row of pulses read against a spacing. Cost in nats a gap; steps in order; pulses that fit nothing."""

    steps: tuple[Step, ...]
    lost: int
    extra: int
    cost: float
    rms: float


def walk(pulses: list[float], spans: Spans, target: int, ratio: float, cost_lost: float = COST_LOST) -> Fit:
    """Read mirror angles of pulses one after the other, the first as `target`, starting at a spin ratio."""
    log_ratio, here, number = math.log(ratio), pulses[0], target
    steps = [Step(0, target, log_ratio)]
    lost = extra = 0
    cost = squares = 0.0
    for index in range(1, len(pulses)):
        waited = pulses[index] - here
        if waited <= 0.0:
            extra += 1
            continue
        gaps, miss = _nearest(spans.rows[number % spans.count], waited, log_ratio, cost_lost)
        if miss > 0.35 and gaps == 1:
            extra += 1
            continue
        width = spans.rows[number % spans.count][gaps]
        weight = (
            FIT_SPREAD * FIT_SPREAD / (FIT_SPREAD * FIT_SPREAD + 4.0 * spans.noise2[number % spans.count])
        )
        cost += min(COST_WORST, 0.5 * weight * (miss / FIT_SPREAD) ** 2) + cost_lost * (gaps - 1)
        squares += min(weight * miss * miss, 0.25)
        lost += gaps - 1
        number += gaps
        here = pulses[index]
        steps.append(Step(index, number, log_ratio + miss))
        log_ratio += min(0.7, 3.0 * width) * miss
    gaps_read = max(1, len(steps) - 1)
    return Fit(tuple(steps), lost, extra, cost / gaps_read, math.sqrt(squares / gaps_read))


def _nearest(row: list[float], waited: float, log_ratio: float, cost_lost: float) -> tuple[int, float]:
    """How many gaps the wait spans most likely, and what is left over in log ratio."""
    best, best_miss, best_cost = 1, math.log(row[1] / waited) - log_ratio, math.inf
    for gaps in range(1, len(row)):
        miss = math.log(row[gaps] / waited) - log_ratio
        cost = min(COST_WORST, 0.5 * (miss / FIT_SPREAD) ** 2) + cost_lost * (gaps - 1)
        if cost < best_cost:
            best, best_miss, best_cost = gaps, miss, cost
        if miss > 0.5:
            break
    return best, best_miss


def best_rotation(pulses: list[float], spans: Spans, ratio: float, cost_lost: float = COST_LOST) -> Fit:
    """The reading of the pulses with the lowest cost over all targets that the first could be."""
    fits = (walk(pulses, spans, target, ratio, cost_lost) for target in range(spans.count))
    return min(fits, key=lambda fit: fit.cost)


def one_turn(pulses: list[float], count: int) -> float | None:
    """Mirror turns a lap turn takes: the middle of all differences that span one turn; None for too few."""
    turns = [b - a for a, b in zip(pulses, pulses[count:], strict=False)]
    return median(turns) if turns else None


def learn(pulses: list[float], count: int) -> tuple[Spans, Fit] | None:
    """Spacing from several turns of pulses, and the pulses read with it; None where it is not clear.

    Where they have told no clear tale for long, two targets may sit so close that they pass as one.
    """
    found = _learn(pulses, count)
    if found is None and count >= MERGED_FROM and len(pulses) > MERGED_AFTER * count:
        found = _learn(pulses, count - 1)
        if found is not None and found[1].extra > MOST_EXTRA * len(found[1].steps):
            return None
    return found


def _learn(pulses: list[float], count: int) -> tuple[Spans, Fit] | None:
    if count == 1:
        turn = one_turn(pulses, count)
        return None if turn is None else _learn_single(pulses, turn)
    best: tuple[int, Spans, Fit] | None = None
    for start in _whole_turns(pulses, count):
        length = pulses[start + count] - pulses[start]
        window = [(pulses[start + k] - pulses[start + k - 1]) / length for k in range(1, count + 1)]
        spans = Spans((window[-1], *window[:-1]))
        fit = walk(pulses[start:], spans, 0, 1.0 / length)
        if _plausible(fit, count) and (best is None or _worth(fit) < _worth(best[2])):
            best = (start, spans, fit)
            if _worth(fit) < GOOD_ENOUGH:
                break
    if best is None:
        return None
    start, spans, fit = best
    ratio = math.exp(fit.steps[-1].log_ratio)
    spans = Spans(_refined(pulses[start:], fit, spans))
    fit = walk(pulses[start:], spans, 0, ratio)
    if not _plausible(fit, count) or not _all_seen(fit, count):
        return None
    return spans, fit._replace(steps=_moved(fit.steps, start))


def _all_seen(fit: Fit, count: int) -> bool:
    """Whether each target was seen in half of the turns at least: one that was not is an error of spacing."""
    first, last = fit.steps[0].number, fit.steps[-1].number
    seen = [0] * count
    for step in fit.steps:
        seen[step.number % count] += 1
    return all(2 * seen[n % count] >= (last - n) // count + 1 for n in range(first, first + count))


def _whole_turns(pulses: list[float], count: int) -> list[int]:
    """Where windows of `count` gaps begin that are likely whole turns: their length recurs.

    A window with a lost target is longer by the gap that it took in, so its length is one of several; those
    without have all nearly the same. Windows of like length are tried a few times only.
    """
    half = len(pulses) - count
    lengths = [pulses[i + count] - pulses[i] for i in range(half)]
    support = [sum(1 for other in lengths if abs(other / length - 1.0) < 0.04) for length in lengths]
    starts = [i for i in range(max(0, len(pulses) - 2 * count)) if lengths[i] > SHORTEST_TURN]
    starts.sort(key=lambda i: -support[i])
    chosen: list[int] = []
    for i in starts:
        alike = sum(1 for j in chosen if abs(lengths[j] / lengths[i] - 1.0) < 0.03)
        if alike < MOST_ALIKE:
            chosen.append(i)
        if len(chosen) == MOST_TRIES:
            break
    return chosen


def _worth(fit: Fit) -> float:
    """Cost a pulse, lost and extra ones included: the less the better."""
    return (fit.cost * (len(fit.steps) - 1) + COST_EXTRA * fit.extra) / (len(fit.steps) + fit.extra)


def _learn_single(pulses: list[float], turn: float) -> tuple[Spans, Fit] | None:
    """One target: only the length of a turn is to be found; it may be a fraction of the usual gap."""
    spans = Spans.even(1)
    fits = [walk(pulses, spans, 0, parts / turn) for parts in (1, 2, 3) if parts / turn <= 1.08]
    if not fits:
        return None
    fit = min(fits, key=lambda one: one.cost * (len(one.steps) - 1) + COST_EXTRA * one.extra)
    return (spans, fit) if _plausible(fit, 1) else None


def _plausible(fit: Fit, count: int) -> bool:
    read = len(fit.steps)
    return read > count and fit.rms < 0.2 and fit.lost + fit.extra < 0.2 * read + 1.0


def _moved(steps: tuple[Step, ...], start: int) -> tuple[Step, ...]:
    return tuple(Step(step.pulse + start, step.number, step.log_ratio) for step in steps)


def _refined(pulses: list[float], fit: Fit, spans: Spans) -> tuple[float, ...]:
    """Widths as the middle over turns of each gap measured against the turn around it."""
    n = spans.count
    angle = {step.number: pulses[step.pulse] for step in fit.steps}
    shares: list[list[float]] = [[] for _ in range(n)]
    for number in angle:
        if number - 1 not in angle:
            continue
        turn = _turn_around(angle, number, n)
        if turn is not None:
            shares[number % n].append((angle[number] - angle[number - 1]) / turn)
    widths = [median(found) if found else spans.widths[k] for k, found in enumerate(shares)]
    total = sum(widths)
    return tuple(width / total for width in widths)


def _turn_around(angle: dict[int, float], number: int, n: int) -> float | None:
    """Mirror turns of the lap turn centred on the gap before `number`, or the nearest one that is whole."""
    half = n // 2
    for shift in range(n):
        for first in (number - 1 - half + shift, number - 1 - half - shift):
            if first in angle and first + n in angle:
                return angle[first + n] - angle[first]
    return None


def harmonic_limit(count: int) -> float:
    """Once-per-turn part of a learned spacing above which it is a jerk and not the spacing."""
    return max(LEAST_HARMONIC, 3.3 * WORST_PLACEMENT * math.sqrt(2.0 / count))


def once_per_turn(widths: tuple[float, ...]) -> float:
    """Amplitude of the once-per-turn part of a spacing, as the share of speed that would look like it."""
    n = len(widths)
    if n < 3:
        return 0.0
    at = cosine = sine = 0.0
    for k, width in enumerate(widths):
        at += width
        off = 2.0 * math.pi * (at - (k + 1) / n)
        cosine += off * math.cos(2.0 * math.pi * (k + 1) / n)
        sine += off * math.sin(2.0 * math.pi * (k + 1) / n)
    return 2.0 / n * math.hypot(cosine, sine)
