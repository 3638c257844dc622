"""Colours by their meaning, and a shape beside each, so that nothing depends on colour.

Meanings after IEC 60073 (read second hand): red danger or act now, yellow abnormal, green normal,
blue an act that is required, white neutral. The sixteen terminal colours only, so that any terminal,
light or dark, shows its own.
"""

from __future__ import annotations

from benchctl.segment.states import TURNING, State
from benchctl.session.snapshot import Snapshot

DANGER = "bold white on red"
ABNORMAL = "bold black on yellow"
NORMAL = "bold green"
REQUIRED = "bold white on blue"
NEUTRAL = "bold"
QUIET = "dim"
REVERSED = "bold reverse"

_CALL_STYLE = {"wet_down": REQUIRED, "end": REQUIRED, "caution": ABNORMAL, "fault": DANGER}
_CALL_SHAPE = {"wet_down": "≈≈", "end": "▼▼", "caution": "▲▲", "fault": "■■"}
_LAP_SHAPE = {
    "waiting": "○", "settling": "◌", "steady": "●", "jerky": "▲", "slowing": "▲",
    "stalled": "■", "fast": "▲", "weak_signal": "◇", "no_signal": "◇",
}  # fmt: skip
_LAP_STYLE = {"steady": NORMAL, "stalled": DANGER, "jerky": ABNORMAL, "slowing": ABNORMAL, "fast": ABNORMAL}


def call_look(pattern: str) -> tuple[str, str]:
    """Style and shape of a call."""
    return _CALL_STYLE.get(pattern, DANGER), _CALL_SHAPE.get(pattern, "■■")


def lap_look(state: str) -> tuple[str, str]:
    """Style and shape of the lap's state."""
    return _LAP_STYLE.get(state, NEUTRAL), _LAP_SHAPE.get(state, "○")


def state_look(shot: Snapshot) -> tuple[str, str]:
    """Style and shape of the segment's state."""
    state = shot.state
    if state is State.STOPPING or (state is State.STANDING and shot.stop_reason):
        return DANGER, "■"
    if state in (State.WET_DOWN, State.WAITING, State.STANDING):
        return REQUIRED, "≈" if state is not State.STANDING else "▼"
    if state in TURNING:
        return NORMAL, "●"
    return NEUTRAL, "○"
