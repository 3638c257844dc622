"""Numbered reasons for stopping and for refusing, shared by both ends of the cable.

The names, which the host logs, are in `reason_names`. Stop kinds, with the words of IEC 60204-1 as
vocabulary only (secondary sources read, the standard's text not opened); none is a safety-rated function:

  planned              controlled stop at the planned deceleration, power off at standstill
  controlled_then_off  like stop category 1: controlled stop, power off at standstill or after T_SS1
  power_off            like stop category 0: power off at once, the table coasts
"""

NOT_STOPPED = 0
PLANNED = 1
CONTROLLED_THEN_OFF = 2
POWER_OFF = 3

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
LAP_SLOWING = 52
LAP_NOT_TRUE = 53
OFFER_UNANSWERED = 54
HOLD_UNANSWERED = 55
SPEED_NOT_REACHED = 56
REST_NOT_REACHED = 57
START_UNANSWERED = 58

_POWER_OFF_REASONS = (
    OVERSPEED,
    OVERLOAD,
    POWER_NOT_OFF,
    POWER_NOT_ON,
    LAP_GRABBED,
    ESTOP_OPEN,
    CONTROLLER_FAULT,
    WATCHDOG_RESET,
    BROWN_OUT,
    BOARD_RESET,
)
# These do not trip the board: no reset is asked for after them.
_NOT_LATCHED = (
    NONE,
    PLANNED_END,
    HOST_STOP,
    PEDAL_STOP,
    RAW_STOP,
    END_UNANSWERED,
    PROGRAM_CLOSED,
    WATCHDOG_RESET,
    BROWN_OUT,
    BOARD_RESET,
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


def is_hosts(number: int) -> bool:
    """Whether a STOP may name it. What the board finds by itself nobody else can claim."""
    return PLANNED_END <= number <= PROGRAM_CLOSED or LAP_STALLED <= number <= START_UNANSWERED


def stop_kind_of(number: int) -> int:
    """PLANNED, CONTROLLED_THEN_OFF or POWER_OFF; an unknown reason is a controlled stop."""
    if number == NONE:
        return NOT_STOPPED
    if number == PLANNED_END:
        return PLANNED
    return POWER_OFF if number in _POWER_OFF_REASONS else CONTROLLED_THEN_OFF


def latches(number: int) -> bool:
    """Whether the stop trips the board, so that a reset is asked for; an unknown reason does."""
    return number not in _NOT_LATCHED


try:  # the host has the names as well; their file is not copied to the board
    from firmware_protocol.reason_names import REASON_NAMES as REASON_NAMES
    from firmware_protocol.reason_names import REFUSALS as REFUSALS
    from firmware_protocol.reason_names import STOP_KIND_NAMES as STOP_KIND_NAMES
    from firmware_protocol.reason_names import name_of as name_of
    from firmware_protocol.reason_names import number_of as number_of
    from firmware_protocol.reason_names import refusal_name as refusal_name

    # (number, name, stop kind, latched: the board trips and asks for a reset)
    REASONS = tuple([(row[0], row[1], stop_kind_of(row[0]), latches(row[0])) for row in REASON_NAMES])
except ImportError:
    pass
