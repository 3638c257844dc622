"""Several readings of the same pulses side by side, so that one lost, doubled or stray edge cannot mislead.

A pulse may be the next target, a later one (some were lost), or none (bounce, interference). Where only
one of these is likely, one reading goes on; otherwise all do, and the pulses that follow decide. An alarm
counts only if every likely reading gives it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from benchctl.lapwatch.load import GapLoad
from benchctl.lapwatch.pickup import loss_nats
from benchctl.lapwatch.placement import Spans
from benchctl.lapwatch.reading import Habits, Reading

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
SAME, DOUBTFUL = 4.0, 7.0
"""Nats within which readings count as likely; and where one odd gap is all there is to go by."""
LEAP = math.log(0.015 / 3.0)
"""Log density of a leap of speed from one gap to the next: 1 in 70, anywhere within a factor of 20."""
CLEAR_SPREAD = 0.15
"""Where the track is narrower than this and the pulse fits it, no other reading is tried."""


def no_load() -> None:
    """Where the load is not known."""


class Option(NamedTuple):
    """A target that a pulse could be."""

    score: float
    gaps: int
    log_ratio: float


class Track:
    """All likely readings, the best first."""

    def __init__(self, spans: Spans, habits: Habits, first: Reading, window: float) -> None:
        self.spans = spans
        self.habits = habits
        self.readings = [first]
        self.window = window
        """Lap turns of gaps that a reading keeps."""
        self.load: GapLoad | None = None
        """Load in the last gap, where it was asked for."""
        self._past: list[tuple[float, list[Reading]]] = []

    @property
    def best(self) -> Reading:
        """The most likely reading."""
        return self.readings[0]

    def likely(self, within: float = SAME) -> list[Reading]:
        """Readings about as likely as the best."""
        readings = self.readings
        if len(readings) == 1:
            return readings
        floor = readings[0].score - within
        return [reading for reading in readings if reading.score >= floor]

    def pulse(self, turns: float, load: Callable[[], GapLoad | None] = no_load) -> bool:
        """Take a pulse at a mirror angle. False if no reading can take it for a target.

        `load` is asked for the load since the last target where the pulse alone leaves a doubt.
        """
        readings = self.readings
        if len(readings) > 1 or readings[0].spread2 >= CLEAR_SPREAD * CLEAR_SPREAD:
            return self._branch(turns, load())
        one = readings[0]
        waited = turns - one.turns
        width = self.spans.rows[one.target][1]
        if waited <= 0.0 or width > waited * (FASTEST + PLACE_ERROR / width):
            return False
        miss = math.log(width / waited) - one.track
        spread2 = one.spread2 + self.spans.noise2[one.target]
        if miss * miss > 9.0 * spread2 or self.spans.apart2[one.target] < 25.0 * spread2:
            return self._branch(turns, load())
        self._remember(turns)
        self.load = None
        one = one.copy()
        one.take(self.spans, self.habits, turns, 1, self.window)
        self.readings = [one]
        return True

    def retract(self, turns: float) -> None:
        """Take back the pulses since a mirror angle: they were a burst. One target may have drowned in it."""
        for at, readings in self._past:
            if at >= turns:
                self.readings = [reading.copy() for reading in readings]
                break
        self._past = [past for past in self._past if past[0] < turns]
        for reading in self.readings:
            reading.charged = max(reading.charged, 1)

    def _remember(self, turns: float) -> None:
        self._past.append((turns, self.readings))
        del self._past[:-3]

    def _branch(self, turns: float, load: GapLoad | None) -> bool:
        self.load = load
        ways: list[tuple[float, Reading, Option | None]] = []
        taken = False
        for reading in self.readings:
            options = self._options(reading, turns, load)
            if not options:
                ways.append((reading.score, reading, None))
                continue
            taken = True
            best = max(option.score for option in options)
            stray = self._stray(reading, turns, options)
            if stray > best - NEAR_BEHIND:
                ways.append((reading.score + stray, reading, None))
            ways += [(reading.score + option.score, reading, option) for option in options]
        if taken:
            self._remember(turns)
            self._follow(ways, turns)
        return taken

    def _stray(self, reading: Reading, turns: float, options: list[Option]) -> float:
        """Log density of the edge being no target: each target that is overdue must then have been lost."""
        spread = math.sqrt(reading.spread2 + self.spans.noise2[reading.target])
        near = 2.5 * spread
        if spread < CLEAR_SPREAD and any(abs(way.log_ratio - reading.track) < near for way in options):
            return -math.inf
        lost = reading.overdue(self.spans, turns) - reading.charged
        return math.log(self.habits.stray) - loss_nats(reading.doubt, self.habits.lost, lost)

    def _follow(self, ways: list[tuple[float, Reading, Option | None]], turns: float) -> None:
        """Go the likeliest ways; readings that come to the same place are one."""
        ways.sort(key=_likelihood, reverse=True)
        top = ways[0][0]
        kept: list[Reading] = []
        for score, parent, option in ways:
            if score < top - FAR_BEHIND or len(kept) == KEEP:
                break
            child = parent.copy()
            child.score = score - top
            if option is not None:
                child.take(self.spans, self.habits, turns, option.gaps, self.window)
            elif score != parent.score:
                child.strayed(parent.overdue(self.spans, turns))
            if not any(child.like(other) for other in kept):
                kept.append(child)
        self.readings = kept

    def _options(self, reading: Reading, turns: float, load: GapLoad | None) -> list[Option]:
        """Each target the pulse could be, with its log density."""
        waited = turns - reading.turns
        if waited <= 0.0:
            return []
        doubt, usual, pace = reading.doubt, self.habits.lost, self.habits.seconds_per_turn
        spread2 = reading.spread2 + self.spans.noise2[reading.target]
        row, highest, out = self.spans.rows[reading.target], -math.inf, []
        flat = -0.5 * math.log(6.283 * spread2)
        for gaps in range(1, self.spans.longest + 1):
            width = row[gaps]
            if width > waited * (FASTEST + PLACE_ERROR / width):
                break
            log_ratio = math.log(width / waited)
            miss = log_ratio - reading.track
            near = flat - 0.5 * miss * miss / spread2
            lost = 0 if gaps == 1 else self.spans.lost(reading.target, gaps, pace) - reading.charged
            score = (near if near > LEAP else LEAP) - math.log(waited)
            if lost > 0:
                score -= loss_nats(doubt, usual, lost)
            if load is not None:
                score += load.nats(math.exp(log_ratio - reading.level))
            highest = max(highest, score)
            out.append(Option(score, gaps, log_ratio))
            if miss > 0.0 and score < highest - NEAR_BEHIND:
                break
        return [option for option in out if option.score > highest - NEAR_BEHIND]


def _likelihood(way: tuple[float, Reading, Option | None]) -> float:
    return way[0]
