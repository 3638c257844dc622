"""What a person can do, whichever way they do it: a key, the pedal, a line of text, a script."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Act(StrEnum):
    """A person's act. Those up to LOOKED are events of the segment by the same name."""

    ARM = "arm"
    RUN = "run"
    SPEED_UP = "speed_up"
    WETTED = "wetted"
    SLOWER = "slower"
    FASTER = "faster"
    HOLD_SLOW = "hold_slow"
    GO_ON = "go_on"
    STOP = "stop"
    LIFTED = "lifted"
    LOOKED = "looked"
    WATCHING = "watching"
    """The lap turns, I am watching it: hold the stop that a silent lap sensor would bring."""
    LAP_STANDS = "lap_stands"
    """The lap does not turn: the other answer to a silent lap sensor. Stops the table."""
    TAKE_SLOWER = "take_slower"
    """Take the slower speed that is offered for a lap that jerks."""
    ACCEPT_LEVEL = "accept_level"
    """The lap's new speed is normal."""
    SILENCE = "silence"
    """Quiet the sound of what is called now; changes nothing else."""
    ACKNOWLEDGE = "acknowledge"
    """I have seen it; changes nothing of the table."""
    RESET = "reset"
    """Clear a stop for a fault: seen, its cause gone, the table at rest. Never starts anything."""
    SHELVE = "shelve"
    """Put advice aside for half an hour: that named by the text, else the first."""
    UNSHELVE = "unshelve"
    """Bring back what was put aside."""
    NEXT = "next"
    """Make the next segment ready, after this one is closed."""
    NOTE = "note"
    PRESS = "press"
    """The cold press: "start", or a word for the one under way, as it is typed."""
    MARK = "mark"
    """"9 chip at the drawn mark" takes another mark; "used" and "again" settle the last segment's."""


class Done(NamedTuple):
    """One act, with the words of a note or the name of an alarm where it has one."""

    act: Act
    text: str = ""
