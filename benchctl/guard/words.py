"""Every reason in words that a person with wet hands can act on: what it is, and what to do (60 characters).

The keys are the names that stand in the log: the board's own reasons and the host's.
"""

from __future__ import annotations

from typing import NamedTuple

DO_LIMIT = 60


class Words(NamedTuple):
    """What happened, and what to do about it."""

    title: str
    do: str


_WET = "Wet the edge of the lap now, then lift it"

REASONS: dict[str, Words] = {
    "person": Words("Stopped by hand", _WET),
    "host_stop": Words("Stopped by hand", _WET),
    "pedal_stop": Words("Stopped by the pedal", _WET),
    "raw_stop": Words("Stopped from a bare terminal", _WET),
    "planned_end": Words("The segment is over", _WET),
    "permit_expired": Words("The program fell silent; the board stopped", _WET),
    "link_lost": Words("Cable out; the table stops by itself", "Wet the work now, then check the cable"),
    "board_reset": Words(
        "The board restarted; the table is off", "Wet now; nothing moves until you start again"
    ),
    "lap_off_post": Words("The lap is off its post", "Stay back until the table rests"),
    "power_not_on": Words("The drive got no power", "Check contactor, fuse and emergency stop"),
    "controller_fault": Words("The board met an error of ours", "Wet now; keep the log and report it"),
    "program_closed": Words("The program was closed", _WET),
    "end_unanswered": Words("Stopped without wetting", "Flood the lap before you lift it"),
    "lap_stalled": Words("The lap has stopped turning", "Wet now; feel the post and the lap when at rest"),
    "lap_jerky": Words("The lap sticks and lets go", "Wet now; press again or charge before the next"),
    "lap_sensor_dead": Words("No signal from the lap", "Wet now; look at the lap's sensor and targets"),
    "lap_not_true": Words(
        "The lap did not come to turn true", "Wet now; lift, press or charge, then try again"
    ),
    "lap_grabbed": Words("The lap grabbed the glass", "Do not pull up; flood it and slide it off"),
    "lap_off": Words("The lap is off its post", "Stay back until the table rests"),
    "dry_lap": Words("The lap ran dry", "Flood before lifting; never pull a stuck lap up"),
    "overload": Words(
        "The table was held back; power is off", "Look for what drags; wet the edge of the lap"
    ),
    "overspeed": Words("The table ran too fast; power is off", "Stay back; check the drive before any reset"),
    "table_sensor_dead": Words("No table speed signal", "Wet now; check the table's sensor"),
    "table_sensor_noisy": Words(
        "The table's sensor is unsteady", "Wet now; check sensor, targets and its cable"
    ),
    "drive_not_following": Words("The drive does not follow", "Wet now; check the drive and its setting"),
    "belt_slip": Words("The belt slips", "Wet now; check the belt"),
    "power_not_off": Words("POWER DID NOT SWITCH OFF", "PRESS THE EMERGENCY STOP on the machine"),
    "estop_open": Words("The emergency stop is pressed", "Wet the work; release it by hand, then reset"),
    "watchdog_reset": Words("The board hung and restarted", "Wet now; nothing moves until you start again"),
    "brown_out": Words("The board lost power and restarted", "Wet now; check the supply"),
    "board_restarted": Words(
        "The board restarted; the table is off", "Wet now; nothing moves until you start again"
    ),
    "pedal_stuck": Words("The pedal is pressed or stuck", "Free the pedal; it must be released once"),
    "settings_damaged": Words(
        "The board's settings were damaged", "Safe values are in use; run the board check"
    ),
    "start_unanswered": Words("The board did not start", "Check the board; nothing turned"),
    "offer_unanswered": Words("Nobody let it speed up", _WET),
    "speed_not_reached": Words("The speed was not reached", "Wet now; check belt, load and drive"),
    "hold_unanswered": Words("Held slow too long", _WET),
    "rest_not_reached": Words(
        "The table is slow to come to rest", "Stay clear; if it still turns, cut its power"
    ),
    "disk_full": Words("The disk takes no more records", "Wet now; free space, the record is held in memory"),
    "record_not_kept": Words("The log cannot be written", "Free space on the disk; the record is held"),
    "program_error": Words("Program error; the table was stopped", _WET),
    "terminal_closed": Words("The terminal went away", _WET),
}

_UNKNOWN = "Wet now; look at the table before anything else"


def words_for(reason: str) -> Words:
    """The words of `reason`; a reason from a newer board that is not known here gets general ones."""
    known = REASONS.get(reason)
    return known if known is not None else Words(f"Stopped: {reason.replace('_', ' ')[:40]}", _UNKNOWN)
