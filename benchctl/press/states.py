"""The states of a cold press, in the order of the work, and what may follow what.

The table is the only place that says which event leads where; the engine runs it and the tests walk it. The
lap rests at its first place (`first_place`); where the mirror has a hole or the lap overhangs, the person is
called at half time (`shift_due`) to slide and turn it, and it rests at its second place (`second_place`).
When the time is up it must come off (`off_due`): a loaded lap bonds to glass that dries.
"""

from __future__ import annotations

from enum import StrEnum

from benchctl.models.state_table import Limit, Row


class State(StrEnum):
    """Where a cold press is."""

    FIRST = "first_place"
    SHIFT = "shift_due"
    SECOND = "second_place"
    OFF = "off_due"
    CLOSED = "closed"


class On(StrEnum):
    """What can happen: a person's acts, then time's."""

    SHIFTED = "shifted"
    WETTED = "wetted"
    LIFTED = "lifted"
    END = "end"
    """Ended before its time; the lap is taken off."""

    SHIFT_CALL = "shift_call"
    TIME_UP = "time_up"
    LIMIT = "limit"


S = State

LIMITS: dict[State, Limit] = {
    S.SHIFT: Limit("second_s", "nobody shifted the lap; it was pressed at one place"),
    S.OFF: Limit(3600.0, "nobody took the lap off"),
}

TABLE: dict[tuple[State, On], Row[State]] = {
    (S.FIRST, On.SHIFT_CALL): Row(S.SHIFT, "call"),
    (S.FIRST, On.SHIFTED): Row(S.SECOND, "shift"),
    (S.FIRST, On.TIME_UP): Row(S.OFF, "call"),
    (S.SHIFT, On.SHIFTED): Row(S.SECOND, "shift"),
    (S.SHIFT, On.LIMIT): Row(S.OFF, "call"),
    (S.SECOND, On.TIME_UP): Row(S.OFF, "call"),
    (S.OFF, On.LIFTED): Row(S.CLOSED, "complete"),
    (S.OFF, On.LIMIT): Row(S.CLOSED, "leave"),
}
for _state in (S.FIRST, S.SHIFT, S.SECOND):
    TABLE[_state, On.END] = Row(S.CLOSED, "end_early")
for _state in (S.FIRST, S.SHIFT, S.SECOND, S.OFF):
    TABLE[_state, On.WETTED] = Row(_state, "wet")
