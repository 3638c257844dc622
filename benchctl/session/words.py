"""What each state of the segment is called on a face, and what the person should do in it."""

from __future__ import annotations

from typing import NamedTuple

from benchctl.segment.states import State


class StateWords(NamedTuple):
    """A word for what is happening, and the one thing to do now."""

    headline: str
    do_now: str


STATE_WORDS: dict[State, StateWords] = {
    State.READY: StateWords("READY", "Mirror on its mark, lap set, weights on: then arm"),
    State.ARMING: StateWords("ARMING", "Wait for the board"),
    State.ARMED: StateWords("ARMED", "Hands clear of table and lap: then run"),
    State.STARTING: StateWords("STARTING", "Hands clear"),
    State.CREEP: StateWords("CREEPING", "Watch the lap: does it spin true?"),
    State.OFFERED: StateWords("LAP TURNS TRUE", "Let it speed up, or stop"),
    State.RAMP: StateWords("SPEEDING UP", "Watch the lap; hands clear"),
    State.POLISH: StateWords("POLISHING", "Keep the work wet"),
    State.HELD: StateWords("HELD SLOW", "Wet the work, then go on"),
    State.WET_DOWN: StateWords("WET THE WORK", "Flood the open glass, then answer: wetted"),
    State.RUNNING_IN: StateWords("WATER RUNS IN", "It stops by itself at the end; be ready to lift"),
    State.WAITING: StateWords("WET THE WORK NOW", "Creeping and waiting: wet it, then answer: wetted"),
    State.SLOW_DOWN: StateWords("SLOWING DOWN", "Hands clear until the table rests"),
    State.STOPPING: StateWords("STOPPING", "Hands off; wet the edge of the lap now"),
    State.STANDING: StateWords("STANDING ON GLASS", "Slide the lap off now, then answer: lifted"),
    State.LOOK: StateWords("LOOK AT THE GLASS", "Wipe, look from centre to edge, then enter it"),
    State.CLOSED: StateWords("SEGMENT DONE", "Turn the mirror to its next mark"),
}
