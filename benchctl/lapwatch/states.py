"""The nine states of the lap and the table of what leads from one to the next.

The table is data: the judge below, the tests and docs/lap-watch.md all read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from benchctl.lapwatch.verdict import LapState


class Way(NamedTuple):
    """If `sign` is seen, go to `to`."""

    sign: str
    to: LapState


SIGNS: dict[str, str] = {
    "resting": "table below 1 rpm",
    "pulses": "a pulse came while the table turned",
    "true": "severity below 0.22 for 5 lap turns and spacing known",
    "stopped": "targets absent, and load or their number proves a stop",
    "silent": "targets absent beyond chance, ratio had not fallen, load unchanged",
    "load_gone": "load under 55 % of usual with the lap near the mirror's speed, for a second",
    "jerk": "scatter chart over its limit and severity above 0.25",
    "drop": "drop chart, slide or one-turn mean over its limit below the usual ratio",
    "over": "one-turn mean 12 % over the reference for a whole turn",
    "misses": "chart of lost targets over its limit",
    "quiet": "severity below 0.18 for 4 lap turns",
    "level": "one-turn mean within 12 % of the reference for 2 lap turns",
    "clean": "share of lost targets below 6 %",
    "turning": "1.5 lap turns that fit the spacing",
    "came": "the awaited target came after all, slowly: the lap had not stopped",
    "accepted": "the person takes the new level as normal, after 20 calm lap turns",
}

TABLE: dict[LapState, tuple[Way, ...]] = {
    "waiting": (Way("pulses", "settling"),),
    "settling": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("silent", "no_signal"),
        Way("true", "steady"),
    ),
    "steady": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("load_gone", "fast"),
        Way("jerk", "jerky"),
        Way("drop", "slowing"),
        Way("over", "fast"),
        Way("silent", "no_signal"),
        Way("misses", "weak_signal"),
    ),
    "weak_signal": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("load_gone", "fast"),
        Way("jerk", "jerky"),
        Way("drop", "slowing"),
        Way("over", "fast"),
        Way("silent", "no_signal"),
        Way("clean", "steady"),
    ),
    "jerky": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("load_gone", "fast"),
        Way("silent", "no_signal"),
        Way("quiet", "settling"),
    ),
    "slowing": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("load_gone", "fast"),
        Way("jerk", "jerky"),
        Way("silent", "no_signal"),
        Way("level", "settling"),
        Way("accepted", "settling"),
    ),
    "fast": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("jerk", "jerky"),
        Way("silent", "no_signal"),
        Way("level", "settling"),
        Way("accepted", "settling"),
    ),
    "stalled": (Way("resting", "waiting"), Way("came", "slowing"), Way("turning", "settling")),
    "no_signal": (
        Way("resting", "waiting"),
        Way("stopped", "stalled"),
        Way("misses", "weak_signal"),
        Way("turning", "settling"),
    ),
}
"""For each state, the ways out of it, the first that applies is taken."""

ALARMS: frozenset[str] = frozenset({"jerky", "slowing", "stalled", "fast", "weak_signal", "no_signal"})
AGAIN_S, AGAIN_TURNS = 5.0, 3.0
"""The same alarm is not raised again sooner than this after it began."""
STANDING_COUNT, STANDING_S = 3, 60.0
"""So many of one kind within this time become one standing alarm, held as long again."""


@dataclass
class _Past:
    at_s: float
    turns: float


class Judge:
    """Holds the state and lets no alarm flood."""

    def __init__(self) -> None:
        self.state: LapState = "waiting"
        self.before: LapState = "waiting"
        """The state before this one."""
        self.since_s = 0.0
        self._begun: dict[str, list[_Past]] = {}
        self._held_until_s = -1.0

    def see(self, signs: set[str], at_s: float, lap_turns: float) -> bool:
        """Follow the table for the signs seen now. True if the state changed."""
        for way in TABLE[self.state]:
            if way.sign in signs and self._lets(way, at_s, lap_turns):
                self.enter(way.to, at_s, lap_turns)
                return True
        return False

    def enter(self, state: LapState, at_s: float, lap_turns: float) -> None:
        """Go to a state."""
        self.before, self.state, self.since_s = self.state, state, at_s
        if state in ALARMS:
            begun = self._begun.setdefault(state, [])
            begun.append(_Past(at_s, lap_turns))
            del begun[:-STANDING_COUNT]
            often = len(begun) == STANDING_COUNT and at_s - begun[0].at_s < STANDING_S
            self._held_until_s = at_s + STANDING_S if often else -1.0

    def _lets(self, way: Way, at_s: float, lap_turns: float) -> bool:
        if way.sign in ("resting", "stopped", "came", "accepted"):
            return True
        if self.state in ALARMS and way.to not in ALARMS and at_s < self._held_until_s:
            return False
        begun = self._begun.get(way.to)
        if way.to not in ALARMS or not begun:
            return True
        last = begun[-1]
        return at_s - last.at_s >= AGAIN_S and lap_turns - last.turns >= AGAIN_TURNS
