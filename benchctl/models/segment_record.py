"""The record of one segment: what was set, what was measured, how it ended. SI units, seconds, rpm."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from benchctl.models.inspection import ZONES
from benchctl.models.quantities import Record
from benchctl.models.weights import Piece

Outcome = Literal["completed", "stopped", "refused"]
StopKind = Literal["planned", "controlled_then_off", "power_off"]
WetDown = Literal["answered", "unanswered", "not_reached"]


class SegmentRecord(Record):
    """One segment as it goes into the logbook and out as JSON; names say their units.

    `polishing_s` is the time the table turned at creep or faster by the board's clock; `table_turns`,
    `lap_turns` and `useful_turns` come from the sensors. A value that was not measured is None.
    """

    event: Literal["segment_record"] = "segment_record"
    outcome: Outcome
    stop_reason: str | None = Field(default=None, max_length=40)
    stop_kind: StopKind
    stop_detail: str = Field(default="", max_length=200)
    """What was measured when it was stopped, or what happened."""
    polishing_s: float = Field(ge=0.0)
    planned_s: float = Field(ge=0.0)
    table_turns: float = Field(ge=0.0)
    lap_turns: float = Field(ge=0.0)
    useful_turns: float = Field(ge=0.0)
    spin_ratio_mean: float | None = None
    spin_ratio_p05: float | None = None
    spin_ratio_p95: float | None = None
    spin_ratio_predicted: float | None = None
    lag_post_drag_nm: float | None = None
    """The drag at the post that would make the lap lag as measured; one of two causes, see `lag_causes`."""
    lag_load_off_centre_m: float | None = None
    """The load this far off the lap's centre would do it too."""
    lag_causes: tuple[str, ...] = ()
    zone_depths_m: tuple[float, ...] | None = Field(default=None, min_length=ZONES + 1, max_length=ZONES + 1)
    """What the mechanics say was taken from zones 1 to 5 and the last 5 mm; no measurement."""
    preston_per_pa: float | None = None
    """The Preston coefficient with which `zone_depths_m` was worked out."""
    severity_worst: float | None = None
    lap_states_share: dict[str, float] = Field(default_factory=dict)
    lap_alarms: dict[str, int] = Field(default_factory=dict)
    lap_memory: dict[str, object] | None = None
    """What the watcher learned of this set-up, for the next segment of the same: target placement, ratio."""
    edges_repaired: int = Field(default=0, ge=0)
    load_mean_percent: float | None = None
    wet_down: WetDown
    wettings: int = Field(default=0, ge=0)
    water_answer_s: float | None = Field(default=None, ge=0.0)
    """From the call for water to the person's answer."""
    frames_damaged: int = Field(default=0, ge=0)
    """Stretches of bytes from the board that were no whole frame."""
    standing_s: float | None = Field(default=None, ge=0.0)
    mark: int | None = None
    mark_used: bool | None = None
    """The person's word on whether a segment cut short has used up its mark; None leaves it to the rule."""
    work_rpm: float
    load_n: float
    weights: tuple[Piece, ...] = ()
    """The weights on the lap, piece by piece; `load_n` is the weight of all of them and of the lap."""
    post_offset_m: float
    mirror: str = ""
    lap: str = ""
    simulated: bool = True
    seed: int | None = None
    board_id: str = ""
    note: str = Field(default="", max_length=2000)
