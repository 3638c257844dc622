"""What the watcher says at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LapState = Literal[
    "waiting", "settling", "steady", "jerky", "slowing", "stalled", "fast", "weak_signal", "no_signal"
]


@dataclass(frozen=True, slots=True)
class Verdict:
    """One reading of the lap; a value that cannot be told is None. Ratios are lap speed over table speed.

    state          one of the nine states
    since_s        when it began, on the clock of the pulses
    spin_ratio     mean over the last whole lap turn, free of target placement
    spin_now       the last gap with its learned width; while no pulse comes, never above what the wait allows
    lap_rpm        `spin_now` times the table's measured speed
    reference_ratio  what this set-up usually does
    severity       (max - min) / (2 mean) of lap speed over the last 1.25 turns: 0 true, 1 stops in each cycle
    cv             standard deviation over mean of the same speeds
    once_per_turn  amplitude of the part of it that comes once a lap turn, as a share of the mean
    load_ratio     motor load now over the load when the lap was last steady
    weak_share     share of expected targets that had to be repaired lately
    words          what it is and what to do, in 60 characters
    reason         something a person can check by looking
    """

    state: LapState = "waiting"
    since_s: float = 0.0
    spin_ratio: float | None = None
    spin_now: float | None = None
    lap_rpm: float | None = None
    reference_ratio: float | None = None
    severity: float | None = None
    cv: float | None = None
    once_per_turn: float | None = None
    load_ratio: float | None = None
    weak_share: float = 0.0
    words: str = ""
    reason: str = ""
