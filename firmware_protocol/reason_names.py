"""The names of states, stop reasons and refusals, as the host logs them. Host only; a test holds them to
`reasons`.
"""

STATE_NAMES = ("disarmed", "armed", "running", "slowing", "tripped")
CALL_NAMES = ("none", "wet_down", "end", "fault")
RESET_CAUSE_NAMES = ("power_on", "watchdog", "brown_out", "soft_reset")
STOP_KIND_NAMES = ("not_stopped", "planned", "controlled_then_off", "power_off")

REASON_NAMES = (
    (0, "none"),
    (1, "planned_end"),
    (2, "host_stop"),
    (3, "pedal_stop"),
    (4, "raw_stop"),
    (5, "end_unanswered"),
    (6, "program_closed"),
    (10, "permit_expired"),
    (11, "overspeed"),
    (12, "overload"),
    (13, "table_sensor_dead"),
    (14, "table_sensor_noisy"),
    (15, "drive_not_following"),
    (16, "belt_slip"),
    (17, "power_not_off"),
    (18, "power_not_on"),
    (19, "lap_grabbed"),
    (20, "lap_off"),
    (21, "estop_open"),
    (22, "pedal_stuck"),
    (23, "controller_fault"),
    (30, "watchdog_reset"),
    (31, "brown_out"),
    (32, "board_reset"),
    (40, "lap_stalled"),
    (41, "lap_sensor_dead"),
    (42, "lap_jerky"),
    (43, "dry_lap"),
    (44, "lap_off_post"),
    (45, "link_lost"),
    (46, "board_silent"),
    (47, "face_silent"),
    (48, "disk_full"),
    (49, "program_error"),
    (50, "host_fault"),
    (51, "computer_slept"),
    (52, "lap_slowing"),
    (53, "lap_not_true"),
    (54, "offer_unanswered"),
    (55, "hold_unanswered"),
    (56, "speed_not_reached"),
    (57, "rest_not_reached"),
    (58, "start_unanswered"),
)

REFUSALS = (
    (0, "ok"),
    (1, "unknown_kind"),
    (2, "bad_layout"),
    (3, "version_differs"),
    (4, "schema_differs"),
    (5, "not_owner"),
    (6, "owned_by_another"),
    (7, "wrong_state"),
    (8, "wrong_epoch"),
    (9, "stale"),
    (10, "out_of_range"),
    (11, "above_ceiling"),
    (12, "estop_is_open"),
    (13, "fault_latched"),
    (14, "table_moving"),
    (15, "too_soon"),
    (16, "arm_expired"),
    (17, "pedal_pressed"),
    (18, "wrong_fault"),
    (19, "old_value_differs"),
    (20, "service_locked"),
    (21, "power_is_on"),
)


def name_of(number: int) -> str:
    """The logged name of a stop reason; `reason_N` for a number this side does not know."""
    for row in REASON_NAMES:
        if row[0] == number:
            return row[1]
    return "reason_%d" % number


def number_of(name: str) -> int:
    """The number of a stop reason. KeyError where there is none of that name."""
    for row in REASON_NAMES:
        if row[1] == name:
            return row[0]
    raise KeyError(name)


def refusal_name(number: int) -> str:
    """The logged name of a refusal; `refusal_N` for a number this side does not know."""
    for row in REFUSALS:
        if row[0] == number:
            return row[1]
    return "refusal_%d" % number
