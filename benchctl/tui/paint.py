"""Colours by their meaning, and a word and a shape beside each, so that nothing depends on colour.

Meanings after IEC 60073 (read second hand): red danger or act now, yellow abnormal, green normal,
blue an act that is required, white neutral. Only the terminal's own sixteen colours are asked for, so
a light terminal stays light and a dark one dark. Without colour a fill becomes reversed.
"""

from __future__ import annotations

from benchctl.segment.states import TURNING, State
from benchctl.session.snapshot import Alarm, Snapshot

ROLES: dict[str, str] = {
    "": "",
    "quiet": "dim",
    "strong": "bold",
    "band": "bold reverse",
    "normal": "bold green",
    "abnormal": "black on yellow",
    "danger": "bold bright_white on red",
    "required": "bold bright_white on blue",
}
"""Each role in the style language of the terminal library."""

GROUNDS: dict[str, str] = {
    "terminal": "",
    "dark": "bright_white on black",
    "light": "black on bright_white",
}
"""Ink and ground of each theme, of the sixteen colours too; `terminal` leaves both to the terminal."""

COLOURLESS: dict[str, str] = ROLES | {
    "normal": "bold",
    "abnormal": "reverse",
    "danger": "bold reverse",
    "required": "bold reverse",
}

CALL_ROLE = {"wet_down": "required", "end": "required", "caution": "abnormal", "fault": "danger"}
CALL_SHAPE = {"wet_down": "≈", "end": "▼", "caution": "▲", "fault": "■"}
CALL_WORD = {"wet_down": "WATER", "end": "LIFT", "caution": "CAUTION", "fault": "FAULT"}

ALARM_LOOK = {1: ("■", "danger"), 2: ("▲", "abnormal"), 3: ("○", "strong")}
"""Shape and role of an alarm by priority: it stopped the table, wants an act within a minute, is advice."""

_LAP_SHAPE = {
    "waiting": "○", "settling": "◌", "steady": "●", "jerky": "▲", "slowing": "▼",
    "stalled": "■", "fast": "▶", "weak_signal": "◇", "no_signal": "◇",
}  # fmt: skip
_LAP_ROLE = {
    "steady": "normal",
    "stalled": "danger",
    "jerky": "abnormal",
    "slowing": "abnormal",
    "fast": "abnormal",
    "weak_signal": "abnormal",
    "no_signal": "abnormal",
}


def lap_look(state: str) -> tuple[str, str]:
    """Role and shape of the lap's state."""
    return _LAP_ROLE.get(state, "strong"), _LAP_SHAPE.get(state, "○")


def pressing(shot: Snapshot) -> Alarm | None:
    """The alarm that wants an act now: the first of priority 1 or 2 that nobody has acknowledged."""
    return next((one for one in shot.alarms if one.priority <= 2 and not one.acknowledged), None)


def call_look(shot: Snapshot) -> tuple[str, str, str]:
    """Role, shape and word of what is called. A caution without an alarm only asks for an act."""
    assert shot.call is not None
    pattern = shot.call.pattern
    if pattern == "caution" and pressing(shot) is None:
        return ("required", "≈", "WATER") if shot.state is State.POLISH else ("required", "●", "YOUR TURN")
    return CALL_ROLE.get(pattern, "danger"), CALL_SHAPE.get(pattern, "■"), CALL_WORD.get(pattern, "CALL")


def state_look(shot: Snapshot) -> tuple[str, str]:
    """Role and shape of the segment's state; the call's own where something is called."""
    if shot.call is not None:
        return call_look(shot)[:2]
    if shot.state is State.STOPPING or (shot.state is State.STANDING and shot.stop_reason):
        return "danger", "■"
    if shot.state in (State.WET_DOWN, State.WAITING):
        return "required", "≈"
    if shot.state in (State.STANDING, State.LOOK):
        return "required", "▼"
    if shot.state in TURNING:
        return "normal", "●"
    return "strong", "○"


def filled(role: str) -> bool:
    """Whether a role paints the ground, not only the letters."""
    return role in ("abnormal", "danger", "required", "band")
