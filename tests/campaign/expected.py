"""Which causes a stop may be told under: each is explained by a fault that was there, or by the person."""

from __future__ import annotations

from collections.abc import Mapping

from benchctl.session.acts import Act
from tests.campaign.draws import Case

_BAD_CABLE = frozenset(
    {"link_lost", "permit_expired", "start_unanswered", "lap_stalled", "lap_jerky", "lap_sensor_dead"}
)
"""Frames lost or late take the lap's edges with them: the lap then looks worse than it is."""

EXPLAINS: dict[str, frozenset[str]] = {
    # the lap, the post and the water: the load tells first, or the lap itself
    "lap-grab": frozenset({"lap_grabbed", "overload", "lap_stalled", "drive_not_following"}),
    "lap-stall": frozenset({"lap_stalled", "lap_sensor_dead", "lap_grabbed", "overload", "lap_off"}),
    "tight-post": frozenset({"lap_slowing", "lap_stalled", "lap_jerky"}),
    "jerky-lap": frozenset({"lap_slowing", "lap_jerky", "lap_stalled"}),
    "settling-lap": frozenset({"lap_slowing", "lap_jerky", "lap_stalled"}),
    "off-post": frozenset({"lap_off", "lap_stalled", "overspeed"}),
    "dry-lap": frozenset({"lap_slowing", "dry_lap", "lap_stalled", "lap_jerky", "overload"}),
    # table and drive
    "overload": frozenset({"overload", "lap_grabbed", "drive_not_following", "belt_slip"}),
    "belt-slip": frozenset({"belt_slip", "drive_not_following", "lap_grabbed"}),
    "drive-stuck": frozenset(
        {"drive_not_following", "overspeed", "table_sensor_dead", "table_sensor_noisy", "belt_slip"}
    ),
    # at the very end of a stop its speed is first seen once the power is off: it looks like power that stays
    "runaway": frozenset({"overspeed", "overload", "drive_not_following", "lap_grabbed", "power_not_off"}),
    # sensors
    "table-sensor-dead": frozenset({"table_sensor_dead", "table_sensor_noisy"}),
    "table-sensor-noisy": frozenset({"table_sensor_noisy", "table_sensor_dead"}),
    "lap-sensor-dead": frozenset({"lap_sensor_dead", "lap_stalled"}),
    "lap-sensor-noisy": frozenset({"lap_sensor_dead", "lap_stalled", "lap_jerky"}),
    # cable, board and host
    "cable-out": frozenset({"link_lost", "permit_expired"}),
    "cable-silent": frozenset({"link_lost", "permit_expired", "start_unanswered"}),
    "noisy-cable": frozenset({"link_lost", "permit_expired", "start_unanswered"}),
    "frames-lost": _BAD_CABLE,
    "frames-late": _BAD_CABLE,
    "frames-doubled": frozenset(),
    "board-reset": frozenset({"brown_out", "board_restarted", "link_lost", "start_unanswered"}),
    "board-hang": frozenset({"watchdog_reset", "board_restarted", "link_lost", "start_unanswered"}),
    "relay-welded": frozenset({"power_not_off"}),
    "estop": frozenset({"estop_open"}),
    "pedal-stuck": frozenset({"pedal_stop", "pedal_stuck"}),
    "disk-full": frozenset({"disk_full", "record_not_kept"}),
    "clock-jump": frozenset(),
    "host-hang": frozenset({"permit_expired", "link_lost", "start_unanswered"}),
    "suspend": frozenset({"permit_expired", "link_lost", "computer_slept", "start_unanswered"}),
    "host-dies": frozenset({"permit_expired"}),
    "face-hangs": frozenset({"permit_expired"}),
}
"""The causes that each fault may be told under."""

_ACTS = {"person": Act.STOP, "lap_stalled": Act.LAP_STANDS}
"""Causes that a person may give by an act."""

REFUSALS = frozenset(
    {
        "no_answer",
        "wrong_state",
        "too_soon",
        "not_owner",
        "owned_by_another",
        "power_is_on",
        "pedal_pressed",
        "estop_is_open",
        "table_moving",
        "fault_latched",
        "record_not_kept",
        "arm_expired",
        "wrong_epoch",
        "stale",
        "settings_unknown",
        "start_unanswered",
    }
)
"""Why a start may be refused: none of them turned the table."""


def explained(
    case: Case, reason: str | None, outcome: str, began_s: Mapping[str, float], acts: set[Act], at_s: float
) -> bool:
    """Whether a cause is explained by a fault that began before `at_s`, by the person, or by time."""
    if reason is None:
        return outcome == "completed"
    if outcome == "refused":
        return reason in REFUSALS
    if _ACTS.get(reason) in acts:
        return True
    if reason in ("end_unanswered", "hold_unanswered", "offer_unanswered"):
        return case.operator != "attentive" or Act.HOLD_SLOW in acts or bool(began_s)
    return any(reason in EXPLAINS[name] for name, since_s in began_s.items() if since_s <= at_s)
