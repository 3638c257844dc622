"""When a call is sounded again, how loud, and in which words. Pure in time: `at_s` is handed in, seconds.

A call is sounded at once, then again and again until it is answered or muted: louder, oftener, and from
the second time on spoken. Each kind has a rhythm of its own, so that it is told by ear alone: water two
slow beeps, the end one long tone, a caution two short ones, a fault a fast triple that never ends by
itself. Rhythms and times are judgement.
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.session.snapshot import Call

Tone = tuple[float, float, float]
"""Hertz, seconds of tone, seconds of pause after it."""


class Pattern(NamedTuple):
    """The rhythm of a call and the seconds until it sounds again: the first, second, third time and later."""

    tones: tuple[Tone, ...]
    again_s: tuple[float, float, float]


PATTERNS: dict[str, Pattern] = {
    "wet_down": Pattern(((880.0, 0.5, 0.4), (880.0, 0.5, 0.0)), (10.0, 7.0, 5.0)),
    "end": Pattern(((660.0, 1.4, 0.0),), (15.0, 10.0, 7.0)),
    "caution": Pattern(((740.0, 0.15, 0.12), (740.0, 0.15, 0.0)), (20.0, 15.0, 10.0)),
    "fault": Pattern(((1175.0, 0.12, 0.08),) * 3, (3.0, 2.0, 1.5)),
}
LOUDNESS = (0.4, 0.7, 1.0)
"""Share of full scale at the first, the second and every later time."""
SPEAK_EVERY_S = 8.0


class Sounding(NamedTuple):
    """One sounding: the call's kind, how often it sounded before (at most 2), what is spoken, if anything."""

    pattern: str
    level: int
    words: str


class Caller:
    """Keeps count of the call that goes on now."""

    def __init__(self) -> None:
        self._key: tuple[str, str] | None = None
        self._times = 0
        self._next_s = 0.0
        self._spoke_s = float("-inf")

    def see(self, call: Call | None, at_s: float) -> Sounding | None:
        """What is to be sounded now, if anything."""
        if call is None or call.silenced:
            self._key = None
            return None
        if (call.pattern, call.title) != self._key:
            self._key, self._times, self._next_s = (call.pattern, call.title), 0, at_s
            self._spoke_s = float("-inf")
        if at_s < self._next_s:
            return None
        level = min(self._times, 2)
        self._times += 1
        self._next_s = at_s + PATTERNS[call.pattern].again_s[level]
        return Sounding(call.pattern, level, self._words(call, level, at_s))

    def _words(self, call: Call, level: int, at_s: float) -> str:
        if level == 0 and call.pattern == "caution":
            return ""
        if at_s - self._spoke_s < SPEAK_EVERY_S:
            return ""
        self._spoke_s = at_s
        return spoken(call)


def spoken(call: Call) -> str:
    """What to do first, then how long there is: "Wet the work now. 30 seconds left."."""
    title = call.title.capitalize()
    first = title if call.pattern == "wet_down" else f"{title}. {call.do}"
    if call.due_in_s is None:
        return f"{first}."
    left = max(5, 5 * round(call.due_in_s / 5.0))
    return f"{first}. {left} seconds left."
