"""What the link hands up: readings in seconds, rpm and percent. Nothing above the link knows a frame.

`at_s` is the board's own time, unwrapped, in seconds since its start; durations in the log come from it.
"""

from __future__ import annotations

from typing import NamedTuple


class LapPulse(NamedTuple):
    """A target on the lap passed its sensor."""

    at_s: float


class TablePulse(NamedTuple):
    """A target on the table passed its sensor."""

    at_s: float


class Status(NamedTuple):
    """The board's regular report. `table_rpm` is measured, `set_rpm` is what the ramp asks of the drive."""

    at_s: float
    board_state: str
    """disarmed, armed, running, slowing or tripped."""
    reason: str | None
    """Why the board stopped, by the names of firmware_protocol.reasons; None while nothing did."""
    stop_kind: str | None
    """planned, controlled_then_off or power_off, with `reason`; None while nothing stopped it."""
    set_rpm: float
    target_rpm: float
    table_rpm: float
    load_percent: float
    enabled: bool
    estop_open: bool
    pedal_pressed: bool
    table_turns: float
    lap_turns: float
    load_limit_percent: float | None = None
    """The stored load at which the board takes the power off; None until its settings are known."""


class PedalPress(NamedTuple):
    """The foot pedal was pressed and let go (`held` false) or held down (`held` true, which stops)."""

    at_s: float
    held: bool


class Armed(NamedTuple):
    """The board accepted ARM."""

    at_s: float


class Running(NamedTuple):
    """The board accepted RUN."""

    at_s: float


class Refused(NamedTuple):
    """The board refused a command; `why` is a name of the wire's refusal table."""

    at_s: float
    what: str
    why: str


class Hello(NamedTuple):
    """Who the board is. A `boot_count` that grew means it restarted."""

    at_s: float
    board_id: str
    firmware_id: str
    protocol: tuple[int, int]
    schema_matches: bool
    boot_count: int
    reset_cause: str
    ceiling_rpm: float


class Lost(NamedTuple):
    """No status for too long, or the port failed. `at_s` is the last board time known."""

    at_s: float
    why: str


class CaptureDamage(NamedTuple):
    """How many frames were dropped as damaged since the last report."""

    at_s: float
    frames: int


Reading = (
    LapPulse | TablePulse | Status | PedalPress | Armed | Running | Refused | Hello | Lost | CaptureDamage
)
