"""What the host's guard compares with. Judgement where no source is named; to be learned from logs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GuardLimits:
    """Times in seconds, speeds in rpm, loads as ratios, counts in lap turns."""

    turning_rpm: float = 1.0
    """Below this table speed the lap is not judged."""
    first_turn_s: float = 15.0
    first_turns: float = 2.0
    """A lap that has given no sign this long after the start, and for so many table turns, is not seen."""
    jerk_ease_severity: float = 0.6
    jerk_stop_severity: float = 1.0
    jerk_turns: float = 3.0
    jerk_weak_share: float = 0.15
    """With more of the targets missed than this, a jerk may be the sensor's: it is not told."""
    jerk_ease_share: float = 0.6
    jerk_offer_share: float = 0.8
    """A jerking lap: the slower speed that is offered, as a share of the present one."""
    slowing_fall_a_minute: float = 0.10
    slowing_load_rise: float = 1.02
    """Load over its usual value above which it counts as rising."""
    slowing_window_s: float = 20.0
    slowing_countdown_s: float = 30.0
    """Longer than the window, so that one step to a new level that then stays is no fall."""
    signal_ease_s: float = 20.0
    signal_stop_s: float = 30.0
    watching_s: float = 300.0
    """How long "I am watching" holds off the stop for a silent lap sensor."""
    load_gone_share: float = 0.55
    dry_rise: float = 1.20
    """Load against its lowest of the last minute, at constant speed."""
    dry_rise_over_segment: float = 1.4
    """Load against its lowest of this segment at this speed."""
    dry_same_speed: float = 0.1
    """A speed that differs by no more than this share counts as the same."""
    dry_relief: float = 1.15
    dry_window_s: float = 60.0
    dry_ease_after_s: float = 30.0
    dry_stop_after_s: float = 60.0
    dry_rpm: float = 10.0
    load_high_share: float = 0.85
    """Share of the board's load limit above which it is warned that the power will go off."""
    load_deadband_percent: float = 5.0
    load_none_percent: float = 0.5
    load_none_s: float = 10.0
    """A load that reads less than that for so long, while the table turns, is not being read."""
    settled_after_s: float = 8.0
    """After a change of commanded speed the load is not judged for this long."""
