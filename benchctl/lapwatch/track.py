"""Several readings of the same pulses side by side, so that one lost, doubled or stray edge cannot mislead.

A reading says which target each pulse was. A pulse may be the next target, a later one (some were lost), or
none (bounce, interference). Where only one of these is likely, one reading goes on; otherwise all do, and the
pulses that follow decide. An alarm counts only if every likely reading gives it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from benchctl.lapwatch.charts import cusum, ewma
from benchctl.lapwatch.placement import Spans

FASTEST = 1.06
"""Friction cannot drive the lap faster than the mirror turns; the rest is error of placement and clock."""
PLACE_ERROR = 0.012
"""Lap turns (4 degrees) by which a gap may be misjudged."""
KEEP = 7
"""Most readings carried at once."""
FAR_BEHIND = 10.0
"""Nats by which a reading may trail before it is dropped."""
NEAR_BEHIND = 6.0
"""Nats by which one reading's second choice for a pulse may trail its first."""
SAME = 4.0
"""Nats within which readings count as equally likely."""
LEAP = math.log(0.004 / 3.0)
"""Log density of a leap of speed from one gap to the next: 1 in 250, anywhere within a factor of 20."""
STRAY = math.log(0.05)
"""Log density of an edge that is no target, per mirror turn."""
LEAST_SPREAD2 = 0.045**2
WEAK_LOST = math.log(0.15 / 0.04)
WEAK_SEEN = math.log(0.85 / 0.96)
"""The chart of lost targets: 15 % lost against 4 %."""
WEAK_STRAY = 0.5 * WEAK_LOST
JERK_GROWTH = 2.5
"""The jerk chart looks for scatter grown by this factor."""
SLIDE_S = 1.5
"""Memory of the slide chart: it averages the quick wander of a healthy lap (0.2 to 0.6 s, a judgement)."""
JERK_CLIP = 7.0
DROP_CLIP = 8.0


@dataclass(slots=True)
class Habits:
    """What this lap does when it turns true: the yardsticks of the charts, in logs of the spin ratio."""

    scatter: float = 0.05
    """Standard deviation from gap to gap."""
    usual: float | None = None
    """Level of the last half minute, in which drops are sought."""
    seconds_per_turn: float = 2.0
    """Time of a lap turn at the usual ratio and the present table speed."""
    lost: float = 0.015
    """Share of pulses lost."""
    drop_shift: float = 0.20
    drop_scatter: float = 0.06


class Option(NamedTuple):
    """A target that a pulse could be."""

    score: float
    gaps: int
    width: float
    log_ratio: float


class Reading:
    """One way to read the pulses so far."""

    __slots__ = (
        "charged", "drop", "gaps", "jerk", "lap", "level", "lost", "recent", "score", "share", "slide", "spread2",
        "target", "track", "turns", "weak",
    )  # fmt: skip

    def __init__(self, turns: float, target: int, log_ratio: float) -> None:
        self.turns = turns
        """Mirror turns at the last pulse read as a target."""
        self.target = target
        self.lap = 0.0
        """Lap turns since the reading began."""
        self.track = log_ratio
        self.level = log_ratio
        self.spread2 = 0.08 * 0.08
        self.score = 0.0
        self.lost = 0.02
        self.share = 0.0
        """Share of the last 24 targets or so that were lost or strayed."""
        self.jerk = self.drop = self.slide = self.weak = 0.0
        self.gaps = 1
        self.charged = 0
        """Overdue targets that already count as lost because of stray edges."""
        self.recent: list[tuple[float, float, float]] = [(turns, 0.0, 0.0)]
        """(mirror turns, lap turns, spin ratio of the gap before), the last 1.25 turns."""

    def copy(self) -> Reading:
        """A reading that goes its own way from here."""
        other = Reading.__new__(Reading)
        other.turns, other.target, other.lap = self.turns, self.target, self.lap
        other.track, other.level, other.spread2 = self.track, self.level, self.spread2
        other.score, other.lost, other.share = self.score, self.lost, self.share
        other.jerk, other.drop, other.slide, other.weak = self.jerk, self.drop, self.slide, self.weak
        other.gaps, other.charged = self.gaps, self.charged
        other.recent = self.recent.copy()
        return other

    def calm(self) -> None:
        """Begin the charts anew."""
        self.jerk = self.drop = self.slide = 0.0

    def strayed(self) -> None:
        """The last edge was no target."""
        self.share += (1.0 - self.share) / 24.0
        self.weak += WEAK_STRAY

    def like(self, other: Reading) -> bool:
        """Whether two readings have come to the same place."""
        return (
            self.turns == other.turns
            and self.target == other.target
            and -0.1 < self.track - other.track < 0.1
        )


class Track:
    """All likely readings, the best first."""

    def __init__(self, spans: Spans, habits: Habits, first: Reading, window: float) -> None:
        self.spans = spans
        self.habits = habits
        self.readings = [first]
        self.window = window
        """Lap turns that `recent` spans."""

    @property
    def best(self) -> Reading:
        """The most likely reading."""
        return self.readings[0]

    def likely(self) -> list[Reading]:
        """Readings about as likely as the best."""
        readings = self.readings
        if len(readings) == 1:
            return readings
        floor = readings[0].score - SAME
        return [reading for reading in readings if reading.score >= floor]

    def pulse(self, turns: float) -> bool:
        """Take a pulse at a mirror angle. False if no reading can take it for a target."""
        readings = self.readings
        if len(readings) == 1 and readings[0].spread2 < 0.0225:
            one = readings[0]
            waited = turns - one.turns
            width = self.spans.rows[one.target][1]
            if waited <= 0.0 or width > waited * (FASTEST + PLACE_ERROR / width):
                return False
            log_ratio = math.log(width / waited)
            if (log_ratio - one.track) ** 2 < 9.0 * one.spread2:
                self._advance(one, turns, 1, width, log_ratio)
                return True
        return self._branch(turns)

    def take(self, reading: Reading, turns: float, gaps: int) -> None:
        """Let a reading take a pulse that is known to be `gaps` targets further on."""
        row = self.spans.rows[reading.target]
        width = row[gaps] if gaps <= self.spans.longest else gaps / self.spans.count
        self._advance(reading, turns, gaps, width, math.log(width / (turns - reading.turns)))

    def _branch(self, turns: float) -> bool:
        ways: list[tuple[float, Reading, Option | None]] = []
        taken = False
        for reading in self.readings:
            options = self._options(reading, turns)
            if options:
                taken = True
                stray = reading.score + self._stray(reading, turns, options)
                if stray > reading.score + max(option.score for option in options) - NEAR_BEHIND:
                    ways.append((stray, reading, None))
                ways += [(reading.score + option.score, reading, option) for option in options]
            else:
                ways.append((reading.score, reading, None))
        if taken:
            self._follow(ways, turns)
        return taken

    def _stray(self, reading: Reading, turns: float, options: list[Option]) -> float:
        """Log density of the edge being no target: each target that is overdue must then have been lost."""
        spread = math.sqrt(reading.spread2)
        if spread < 0.15 and any(abs(option.log_ratio - reading.track) < 2.5 * spread for option in options):
            return -math.inf
        charge = max(0, self._overdue(reading, turns) - reading.charged)
        return STRAY + charge * math.log(reading.lost)

    def _overdue(self, reading: Reading, turns: float) -> int:
        slow = (turns - reading.turns) * math.exp(reading.track - 2.5 * math.sqrt(reading.spread2))
        return sum(1 for width in self.spans.rows[reading.target][1:] if width < slow)

    def _follow(self, ways: list[tuple[float, Reading, Option | None]], turns: float) -> None:
        """Go the likeliest ways; readings that end alike are one."""
        ways.sort(key=_likelihood, reverse=True)
        top = ways[0][0]
        kept: list[Reading] = []
        for score, parent, option in ways:
            if score < top - FAR_BEHIND or len(kept) == KEEP:
                break
            child = parent.copy()
            child.score = score - top
            if option is None:
                if score != parent.score:
                    child.strayed()
                    child.charged = self._overdue(child, turns)
            else:
                self._advance(child, turns, option.gaps, option.width, option.log_ratio)
            if not any(child.like(other) for other in kept):
                kept.append(child)
        self.readings = kept

    def _options(self, reading: Reading, turns: float) -> list[Option]:
        """Each target the pulse could be, with its log density."""
        waited = turns - reading.turns
        if waited <= 0.0:
            return []
        spread2 = reading.spread2
        log_lost, log_seen = math.log(reading.lost), math.log(1.0 - reading.lost) - math.log(waited)
        row, highest = self.spans.rows[reading.target], -math.inf
        out: list[Option] = []
        for gaps in range(1, self.spans.longest + 1):
            width = row[gaps]
            if width > waited * (FASTEST + PLACE_ERROR / width):
                break
            log_ratio = math.log(width / waited)
            miss = log_ratio - reading.track
            near = -0.5 * miss * miss / spread2 - 0.5 * math.log(6.283 * spread2)
            score = (near if near > LEAP else LEAP) + log_seen
            score += log_lost * max(0, gaps - 1 - reading.charged)
            highest = max(highest, score)
            out.append(Option(score, gaps, width, log_ratio))
            if miss > 0.0 and score < highest - NEAR_BEHIND:
                break
        return [option for option in out if option.score > highest - NEAR_BEHIND]

    def _advance(self, reading: Reading, turns: float, gaps: int, width: float, log_ratio: float) -> None:
        """Let the reading take the pulse as the target `gaps` further on."""
        miss = log_ratio - reading.track
        square = miss * miss
        leap = square > 9.0 * reading.spread2
        gain = 4.0 * width
        if leap and gain < 0.8:
            gain = 0.8
        reading.track += miss * (gain if gain < 1.0 else 1.0)
        spread2 = reading.spread2 + 0.15 * ((square if square < 0.5 else 0.5) - reading.spread2)
        reading.spread2 = spread2 if spread2 > LEAST_SPREAD2 else LEAST_SPREAD2
        self._count(reading, gaps)
        self._chart(reading, width, log_ratio)
        reading.turns = turns
        reading.target = (reading.target + gaps) % self.spans.count
        reading.lap += width
        reading.gaps = gaps
        reading.charged = 0
        recent = reading.recent
        recent.append((turns, reading.lap, width / (turns - recent[-1][0])))
        horizon = reading.lap - self.window
        while recent[1][1] < horizon:
            del recent[0]

    def _count(self, reading: Reading, gaps: int) -> None:
        """Lost targets: the share of late, and the chart that tells a weak pickup from a usual one."""
        for _ in range(gaps - 1):
            reading.lost += 0.06 * (1.0 - reading.lost)
            reading.share += (1.0 - reading.share) / 24.0
            reading.weak += WEAK_LOST
        reading.lost -= 0.03 * (reading.lost - self.habits.lost)
        reading.share -= reading.share / 24.0
        reading.weak = cusum(reading.weak, WEAK_SEEN)

    def _chart(self, reading: Reading, width: float, log_ratio: float) -> None:
        """The charts of one reading: scatter (jerk), drop and slide of the level, in nats and logs."""
        habits = self.habits
        off = log_ratio - reading.level
        z = off / habits.scatter
        score = 0.42 * z * z - 0.9163
        reading.jerk = cusum(reading.jerk, score if score < JERK_CLIP else JERK_CLIP)
        most = 3.0 * habits.scatter
        off = most if off > most else -most if off < -most else off
        gain = width / 1.5
        reading.level += off * (gain if gain < 0.5 else 0.5)
        if habits.usual is not None:
            fall = habits.usual - log_ratio
            shift, scatter = habits.drop_shift, habits.drop_scatter
            score = shift * (fall - 0.5 * shift) / (scatter * scatter)
            reading.drop = cusum(reading.drop, score if score < DROP_CLIP else DROP_CLIP)
            waited_s = width * habits.seconds_per_turn
            reading.slide = ewma(reading.slide, -fall, waited_s / (waited_s + SLIDE_S))


def _likelihood(way: tuple[float, Reading, Option | None]) -> float:
    return way[0]
