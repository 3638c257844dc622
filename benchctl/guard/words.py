"""Every reason for a stop in words that a person with wet hands can act on, 60 characters at most each.

What happened, what to do first, and what to look at before anything is reset. The keys are the names that
stand in the log: the board's own reasons and the host's.
"""

from __future__ import annotations

from typing import NamedTuple

DO_LIMIT = 60


class Words(NamedTuple):
    """What happened, what to do about it, and what to look at before the next start."""

    title: str
    do: str
    look: str = "Look at the glass and the water"


_WET = "Wet the edge of the lap now, then lift it"
_EDGE = "Wet the edge of the lap now"
_AGAIN = "Wet now; nothing moves until you start again"

REASONS: dict[str, Words] = {
    "person": Words("Stopped by hand", _WET),
    "host_stop": Words("Stopped by hand", _WET),
    "pedal_stop": Words("Stopped by the pedal", _WET),
    "raw_stop": Words("Stopped from a bare terminal", _WET),
    "program_closed": Words("The program was closed", _WET),
    "terminal_closed": Words("The terminal went away", _WET),
    "planned_end": Words("The segment is over", _WET),
    "end_unanswered": Words(
        "Stopped without wetting", "Flood the lap before you lift it", "Look for dried compound and sleeks"
    ),
    "offer_unanswered": Words("Nobody let it speed up", _WET),
    "hold_unanswered": Words("Held slow too long", _WET),
    # the lap
    "lap_stalled": Words(
        "The lap has stopped turning", _EDGE, "Feel whether post and lap are free; look at its zone"
    ),
    "lap_jerky": Words(
        "The lap sticks and lets go", _EDGE, "Look at pitch and charge; press again if it is not true"
    ),
    "lap_slowing": Words(
        "The lap lost more and more speed", _EDGE, "Feel whether it dried out or the post is tight"
    ),
    "lap_not_true": Words(
        "The lap did not come to turn true", _EDGE, "Lift it; press or charge, then try again"
    ),
    "lap_sensor_dead": Words("No signal from the lap", _EDGE, "Look at the lap's sensor, gap and targets"),
    "lap_grabbed": Words(
        "The lap grabbed the glass",
        "Do not pull up; flood it and slide it off",
        "Look for torn pitch, sleeks",
    ),
    "lap_off": Words(
        "The lap is off its post", "Stay back until the table rests", "Look at glass, lap, post"
    ),
    "lap_off_post": Words(
        "The lap is off its post", "Stay back until the table rests", "Look at glass, lap, post"
    ),
    "dry_lap": Words(
        "The lap ran dry",
        "Flood before lifting; never pull a stuck lap up",
        "Look for dried compound, sleeks",
    ),
    # table and drive
    "overload": Words(
        "The table was held back; power is off", _EDGE, "Look for what drags: lap, splash guard, bearing"
    ),
    "overspeed": Words(
        "The table ran too fast; power is off", "Stay back until it rests", "Have the drive checked first"
    ),
    "table_sensor_dead": Words("No table speed signal", _EDGE, "Look at the table's sensor, gap and cable"),
    "table_sensor_noisy": Words(
        "The table's sensor is unsteady", _EDGE, "Look at sensor, targets, and cables beside the motor's"
    ),
    "drive_not_following": Words("The drive does not follow", _EDGE, "Look at the drive and its setting"),
    "belt_slip": Words("The belt slips", _EDGE, "Look whether the belt is wet, worn or loose"),
    "power_not_off": Words(
        "POWER DID NOT SWITCH OFF",
        "PRESS THE EMERGENCY STOP on the machine",
        "Have relay and drive serviced; arming stays refused",
    ),
    "power_not_on": Words("The drive got no power", _EDGE, "Look at contactor, fuse, emergency stop"),
    "speed_not_reached": Words("The speed was not reached", _EDGE, "Look at belt, load and drive"),
    "rest_not_reached": Words(
        "The table is slow to come to rest",
        "Stay clear; if it still turns, cut its power",
        "Look at the drive",
    ),
    "estop_open": Words(
        "The emergency stop is pressed", _EDGE, "Find out why; release it by hand, then reset"
    ),
    "pedal_stuck": Words("The pedal is pressed or stuck", "Free the pedal; it must be released once"),
    # board, cable, computer
    "permit_expired": Words(
        "The program fell silent; the board stopped", _EDGE, "Look at the glass; the log says how long"
    ),
    "link_lost": Words(
        "Cable out; the table stops by itself", "Wet the work now", "Look at plug and cable, both ends"
    ),
    "board_silent": Words("The board fell silent", "Wet the work now", "Look at the board's power and cable"),
    "board_reset": Words("The board restarted; the table is off", _AGAIN, "Look at the board's supply"),
    "board_restarted": Words("The board restarted; the table is off", _AGAIN, "Look at the board's supply"),
    "watchdog_reset": Words("The board hung and restarted", _AGAIN, "Keep the log and report it"),
    "brown_out": Words("The board lost power and restarted", _AGAIN, "Look at the board's supply"),
    "controller_fault": Words("The board met an error of ours", _EDGE, "Keep the log and report it"),
    "settings_damaged": Words(
        "The board's settings were damaged", "Safe values are in use; run the board check"
    ),
    "start_unanswered": Words("The board did not answer the start", "Look at board and cable"),
    "computer_slept": Words(
        "The computer slept; the table stopped", _EDGE, "Keep it from sleeping before the next segment"
    ),
    "face_silent": Words("The screen hung; the table was stopped", _EDGE),
    "host_fault": Words("The program found a fault", _EDGE, "The line above in the log says which"),
    "program_error": Words("Program error; the table was stopped", _EDGE, "Keep the log and report it"),
    "interrupted": Words("The program ended without warning", _EDGE, "Look for dried compound and sleeks"),
    "disk_full": Words(
        "The disk takes no more records", _EDGE, "Free space; the record is held in memory until then"
    ),
    "record_not_kept": Words("The log cannot be written", "Free space on the disk; the record is held"),
}

_UNKNOWN = "Wet now; look at the table before anything else"


def words_for(reason: str) -> Words:
    """The words of `reason`; a reason from a newer board that is not known here gets general ones."""
    known = REASONS.get(reason)
    return known if known is not None else Words(f"Stopped: {reason.replace('_', ' ')[:40]}", _UNKNOWN)
