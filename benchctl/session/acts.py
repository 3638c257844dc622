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
    """I am watching the lap myself: hold the stop that an uncertain lap signal would bring."""
    SILENCE = "silence"
    """Quiet the sound of what is called now; changes nothing else."""
    ACKNOWLEDGE = "acknowledge"
    """I have seen it; changes nothing of the table."""
    RESET = "reset"
    """Clear a stop for a fault once its cause is gone and the table rests. Never starts anything."""
    NEXT = "next"
    """Make the next segment ready, after this one is closed."""
    NOTE = "note"


class Done(NamedTuple):
    """One act, with the words of a note or the pace of the simulated bench where it has one."""

    act: Act
    text: str = ""
