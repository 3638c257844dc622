"""Numbered reasons for stopping and for refusing, shared by both ends of the cable.

The names are what the host logs. Stop kinds, with the words of IEC 60204-1 as vocabulary only (secondary
sources read, the standard's text not opened); none of this is a safety-rated function:

  planned              controlled stop at the planned deceleration, power off at standstill
  controlled_then_off  like stop category 1: controlled stop, power off at standstill or after T_SS1
  power_off            like stop category 0: power off at once, the table coasts
"""

NOT_STOPPED = 0
PLANNED = 1
CONTROLLED_THEN_OFF = 2
POWER_OFF = 3
STOP_KIND_NAMES = ("not_stopped", "planned", "controlled_then_off", "power_off")

NONE = 0
PLANNED_END = 1
HOST_STOP = 2
PEDAL_STOP = 3
RAW_STOP = 4
END_UNANSWERED = 5
PROGRAM_CLOSED = 6

PERMIT_EXPIRED = 10
OVERSPEED = 11
OVERLOAD = 12
TABLE_SENSOR_DEAD = 13
TABLE_SENSOR_NOISY = 14
DRIVE_NOT_FOLLOWING = 15
BELT_SLIP = 16
POWER_NOT_OFF = 17
POWER_NOT_ON = 18
LAP_GRABBED = 19
LAP_OFF = 20
ESTOP_OPEN = 21
PEDAL_STUCK = 22
CONTROLLER_FAULT = 23

WATCHDOG_RESET = 30
BROWN_OUT = 31
BOARD_RESET = 32

LAP_STALLED = 40
LAP_SENSOR_DEAD = 41
LAP_JERKY = 42
DRY_LAP = 43
LAP_OFF_POST = 44
LINK_LOST = 45
BOARD_SILENT = 46
FACE_SILENT = 47
DISK_FULL = 48
PROGRAM_ERROR = 49
HOST_FAULT = 50
COMPUTER_SLEPT = 51

# (number, name, stop kind, latched: the board trips and asks for a reset)
REASONS = (
    (NONE, "none", NOT_STOPPED, False),
    (PLANNED_END, "planned_end", PLANNED, False),
    (HOST_STOP, "host_stop", CONTROLLED_THEN_OFF, False),
    (PEDAL_STOP, "pedal_stop", CONTROLLED_THEN_OFF, False),
    (RAW_STOP, "raw_stop", CONTROLLED_THEN_OFF, False),
    (END_UNANSWERED, "end_unanswered", CONTROLLED_THEN_OFF, False),
    (PROGRAM_CLOSED, "program_closed", CONTROLLED_THEN_OFF, False),
    (PERMIT_EXPIRED, "permit_expired", CONTROLLED_THEN_OFF, True),
    (OVERSPEED, "overspeed", POWER_OFF, True),
    (OVERLOAD, "overload", POWER_OFF, True),
    (TABLE_SENSOR_DEAD, "table_sensor_dead", CONTROLLED_THEN_OFF, True),
    (TABLE_SENSOR_NOISY, "table_sensor_noisy", CONTROLLED_THEN_OFF, True),
    (DRIVE_NOT_FOLLOWING, "drive_not_following", CONTROLLED_THEN_OFF, True),
    (BELT_SLIP, "belt_slip", CONTROLLED_THEN_OFF, True),
    (POWER_NOT_OFF, "power_not_off", POWER_OFF, True),
    (POWER_NOT_ON, "power_not_on", POWER_OFF, True),
    (LAP_GRABBED, "lap_grabbed", POWER_OFF, True),
    (LAP_OFF, "lap_off", CONTROLLED_THEN_OFF, True),
    (ESTOP_OPEN, "estop_open", POWER_OFF, True),
    (PEDAL_STUCK, "pedal_stuck", CONTROLLED_THEN_OFF, True),
    (CONTROLLER_FAULT, "controller_fault", POWER_OFF, True),
    (WATCHDOG_RESET, "watchdog_reset", POWER_OFF, False),
    (BROWN_OUT, "brown_out", POWER_OFF, False),
    (BOARD_RESET, "board_reset", POWER_OFF, False),
    (LAP_STALLED, "lap_stalled", CONTROLLED_THEN_OFF, True),
    (LAP_SENSOR_DEAD, "lap_sensor_dead", CONTROLLED_THEN_OFF, True),
    (LAP_JERKY, "lap_jerky", CONTROLLED_THEN_OFF, True),
    (DRY_LAP, "dry_lap", CONTROLLED_THEN_OFF, True),
    (LAP_OFF_POST, "lap_off_post", CONTROLLED_THEN_OFF, True),
    (LINK_LOST, "link_lost", CONTROLLED_THEN_OFF, True),
    (BOARD_SILENT, "board_silent", CONTROLLED_THEN_OFF, True),
    (FACE_SILENT, "face_silent", CONTROLLED_THEN_OFF, True),
    (DISK_FULL, "disk_full", CONTROLLED_THEN_OFF, True),
    (PROGRAM_ERROR, "program_error", CONTROLLED_THEN_OFF, True),
    (HOST_FAULT, "host_fault", CONTROLLED_THEN_OFF, True),
    (COMPUTER_SLEPT, "computer_slept", CONTROLLED_THEN_OFF, True),
)

OK = 0
UNKNOWN_KIND = 1
BAD_LAYOUT = 2
VERSION_DIFFERS = 3
SCHEMA_DIFFERS = 4
NOT_OWNER = 5
OWNED_BY_ANOTHER = 6
WRONG_STATE = 7
WRONG_EPOCH = 8
STALE = 9
OUT_OF_RANGE = 10
ABOVE_CEILING = 11
ESTOP_IS_OPEN = 12
FAULT_LATCHED = 13
TABLE_MOVING = 14
TOO_SOON = 15
ARM_EXPIRED = 16
PEDAL_PRESSED = 17
WRONG_FAULT = 18
OLD_VALUE_DIFFERS = 19
SERVICE_LOCKED = 20
POWER_IS_ON = 21
CAUSE_STILL_THERE = 22

REFUSALS = (
    (OK, "ok"),
    (UNKNOWN_KIND, "unknown_kind"),
    (BAD_LAYOUT, "bad_layout"),
    (VERSION_DIFFERS, "version_differs"),
    (SCHEMA_DIFFERS, "schema_differs"),
    (NOT_OWNER, "not_owner"),
    (OWNED_BY_ANOTHER, "owned_by_another"),
    (WRONG_STATE, "wrong_state"),
    (WRONG_EPOCH, "wrong_epoch"),
    (STALE, "stale"),
    (OUT_OF_RANGE, "out_of_range"),
    (ABOVE_CEILING, "above_ceiling"),
    (ESTOP_IS_OPEN, "estop_is_open"),
    (FAULT_LATCHED, "fault_latched"),
    (TABLE_MOVING, "table_moving"),
    (TOO_SOON, "too_soon"),
    (ARM_EXPIRED, "arm_expired"),
    (PEDAL_PRESSED, "pedal_pressed"),
    (WRONG_FAULT, "wrong_fault"),
    (OLD_VALUE_DIFFERS, "old_value_differs"),
    (SERVICE_LOCKED, "service_locked"),
    (POWER_IS_ON, "power_is_on"),
    (CAUSE_STILL_THERE, "cause_still_there"),
)

_ROWS = {row[0]: row for row in REASONS}
_NUMBERS = {row[1]: row[0] for row in REASONS}
_REFUSAL_NAMES = dict(REFUSALS)


def name_of(number: int) -> str:
    """The logged name of a stop reason; `reason_N` for a number this side does not know."""
    row = _ROWS.get(number)
    return row[1] if row else "reason_%d" % number


def number_of(name: str) -> int:
    """The number of a stop reason. KeyError where there is none of that name."""
    return _NUMBERS[name]


def known(number: int) -> bool:
    """Whether this side knows the stop reason."""
    return number in _ROWS


def stop_kind_of(number: int) -> int:
    """PLANNED, CONTROLLED_THEN_OFF or POWER_OFF; an unknown reason is a controlled stop."""
    row = _ROWS.get(number)
    return row[2] if row else CONTROLLED_THEN_OFF


def latches(number: int) -> bool:
    """Whether the stop trips the board, so that a reset is asked for; an unknown reason does."""
    row = _ROWS.get(number)
    return row[3] if row else True


def refusal_name(number: int) -> str:
    """The logged name of a refusal; `refusal_N` for a number this side does not know."""
    return _REFUSAL_NAMES.get(number, "refusal_%d" % number)
