"""What is asked of one segment: speeds, times, and how long to call."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from benchctl.models.quantities import DurationS, LengthM, MassKg, Record, TurningRpm

HARD_CEILING_RPM = 60.0
LOWEST_RPM = 1.0


class SegmentPlan(Record):
    """One timed segment. Speeds in rpm of the table, times in seconds.

    `length_s` counts from the first turn at creep to the call to slow down. `wet_call_s` is how long
    before the end water is called for; unanswered, the table creeps and calls for `wait_unanswered_s`.
    With `ask_before_ramp` the table stays at creep until the person lets it speed up.
    """

    creep_rpm: TurningRpm = Field(default=6.0, alias="creep_speed", ge=LOWEST_RPM, le=15.0)
    step_rpm: TurningRpm | None = Field(default=None, alias="step_speed", ge=LOWEST_RPM, le=HARD_CEILING_RPM)
    work_rpm: TurningRpm = Field(alias="work_speed", ge=LOWEST_RPM, le=HARD_CEILING_RPM)
    ceiling_rpm: TurningRpm = Field(default=45.0, alias="ceiling", ge=LOWEST_RPM, le=HARD_CEILING_RPM)
    length_s: DurationS = Field(alias="length", ge=30.0, le=4 * 3600.0)
    wet_call_s: DurationS = Field(default=60.0, alias="wet_call", ge=10.0, le=600.0)
    wait_unanswered_s: DurationS = Field(default=90.0, alias="wait_unanswered", ge=0.0, le=180.0)
    wait_rpm: TurningRpm = Field(default=6.0, alias="wait_speed", ge=LOWEST_RPM, le=8.0)
    rewet_every_s: DurationS = Field(default=240.0, alias="rewet_every", ge=20.0, le=3600.0)
    ask_before_ramp: bool = False

    @model_validator(mode="after")
    def _speeds_in_order(self) -> Self:
        if self.work_rpm > self.ceiling_rpm:
            raise ValueError(
                f"work_speed ({self.work_rpm:g} rpm) must not pass ceiling ({self.ceiling_rpm:g} rpm)"
            )
        if self.creep_rpm > self.work_rpm:
            raise ValueError(
                f"creep_speed ({self.creep_rpm:g} rpm) must not pass work_speed ({self.work_rpm:g} rpm)"
            )
        if self.step_rpm is not None and not self.creep_rpm <= self.step_rpm <= self.work_rpm:
            raise ValueError("step_speed must lie between creep_speed and work_speed")
        if self.wet_call_s >= self.length_s:
            raise ValueError("wet_call must be shorter than the segment's length")
        return self


class PressPlan(Record):
    """The cold press before polishing: seconds, kilograms of weights on the lap, metres.

    `place_m` is how far the lap's centre lies from the mirror's at first, by default the post offset; at
    `shift_at_s`, by default half time, it is slid by `shift_by_m` and turned. Without `shift_by_m` it is slid
    as far as brings other pitch over the hole and all that overhangs onto the glass.
    """

    length_s: DurationS = Field(default=1200.0, alias="length", ge=60.0, le=24 * 3600.0)
    load_kg: MassKg = Field(default=5.0, alias="load", gt=0.0, le=300.0)
    place_m: LengthM | None = Field(default=None, alias="place", ge=0.0, le=1.5)
    shift_at_s: DurationS | None = Field(default=None, alias="shift_at", ge=0.0)
    shift_by_m: LengthM | None = Field(default=None, alias="shift_by", ge=0.0, le=1.0)
    rewet_every_s: DurationS = Field(default=600.0, alias="rewet_every", ge=30.0, le=3600.0)

    @model_validator(mode="after")
    def _shift_within(self) -> Self:
        if self.shift_at_s is not None and not 0.0 < self.shift_at_s < self.length_s:
            raise ValueError(f"shift_at must lie within the press, before {self.length_s / 60:g} min")
        return self
