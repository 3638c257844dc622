"""The wire's whole numbers turned into readings, and names used above the link into the wire's numbers."""

from __future__ import annotations

import math

from benchctl.models.readings import Hello, Status
from firmware_protocol import codec, messages, reason_names, reasons
from firmware_protocol.settings import DEFAULTS, Settings

_REASONS = {row[0]: row for row in reasons.REASONS}
_REFUSALS = dict(reasons.REFUSALS)
_NUMBERS = {row[1]: row[0] for row in reasons.REASONS} | {
    "person": reasons.HOST_STOP,
    "lap_off": reasons.LAP_OFF_POST,
}
"""Reasons for which the host stops; a lap that the host sees to be off is not the board's own finding."""
_CALLS = {
    "quiet": messages.CALL_NONE,
    "wet_down": messages.CALL_WET_DOWN,
    "caution": messages.CALL_WET_DOWN,
    "end": messages.CALL_END,
    "fault": messages.CALL_FAULT,
}

ORDER_NAMES = {
    messages.ARM: "arm",
    messages.RUN: "run",
    messages.SET_SPEED: "set_speed",
    messages.RESET: "reset",
    messages.CALL: "call",
    messages.READ_SETTINGS: "read_settings",
    messages.WRITE_SETTING: "write_setting",
}
"""What an order is called in the readings."""


def stop_reason(name: str) -> int:
    """The wire's number for a reason of the host's; a general one where the wire has none."""
    return _NUMBERS.get(name, reasons.HOST_FAULT)


def call_number(pattern: str) -> int:
    """The wire's number for a pattern of buzzer and lamp; an unknown one is the strongest."""
    return _CALLS.get(pattern, messages.CALL_FAULT)


def refusal(number: int) -> str:
    """The name of a refusal; `refusal_N` where this side does not know it."""
    return _REFUSALS.get(number, f"refusal_{number}")


def mrpm(rpm: float) -> int:
    """Whole 0.001 rpm; -1, which no field takes, for what is no number."""
    return round(rpm * 1000.0) if math.isfinite(rpm) else -1


def milliseconds(seconds: float) -> int:
    """Whole ms; -1, which no field takes, for what is no number."""
    return round(seconds * 1000.0) if math.isfinite(seconds) else -1


def status_reading(status: messages.Status, at_s: float, settings: Settings | None) -> Status:
    """A status in rpm, percent and turns; turns by the usual targets until the settings are known."""
    known = settings or DEFAULTS
    row = _REASONS.get(status.reason)
    return Status(
        at_s=at_s,
        board_state=reason_names.STATE_NAMES[min(status.state, messages.TRIPPED)],
        reason=(row[1] if row else f"reason_{status.reason}") if status.reason else None,
        stop_kind=_kind_name(status),
        set_rpm=status.set_mrpm / 1000.0,
        target_rpm=status.target_mrpm / 1000.0,
        table_rpm=status.table_mrpm / 1000.0,
        load_percent=status.load_permille / 10.0,
        enabled=bool(status.flags & messages.ENABLED),
        estop_open=bool(status.flags & messages.ESTOP_OPEN),
        pedal_pressed=bool(status.flags & messages.PEDAL_PRESSED),
        table_turns=status.table_edges / known.table_edges_per_turn,
        lap_turns=status.lap_edges / known.lap_edges_per_turn,
        load_limit_percent=None if settings is None else settings.load_limit_permille / 10.0,
    )


def _kind_name(status: messages.Status) -> str | None:
    """The kind of the last stop; a board that restarted reports a reason without a kind of stop."""
    row = _REASONS.get(status.reason)
    kind = status.stop_kind or (row[2] if row else 0)
    return reasons.STOP_KIND_NAMES[kind] if 0 < kind < len(reasons.STOP_KIND_NAMES) else None


def hello_reading(identity: messages.Identity, at_s: float) -> Hello:
    """Who the board says it is."""
    return Hello(
        at_s=at_s,
        board_id=identity.board_id,
        firmware_id=identity.firmware_id,
        protocol=(identity.major, identity.minor),
        schema_matches=identity.schema == codec.SCHEMA_HASH,
        boot_count=identity.boot_counter,
        reset_cause=reason_names.RESET_CAUSE_NAMES[min(identity.reset_cause, 3)],
        ceiling_rpm=identity.ceiling_mrpm / 1000.0,
    )


def strange(board: Hello) -> str | None:
    """Why a board may only be watched and stopped: another version or other tables; None for one like us."""
    if board.protocol[0] != messages.VERSION:
        return "version_differs"
    return None if board.schema_matches else "schema_differs"
