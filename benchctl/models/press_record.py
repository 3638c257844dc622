"""The record of one cold press: what was meant, what was done, how it ended. SI units, seconds, kilograms."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from benchctl.models.quantities import Record

PressOutcome = Literal["completed", "ended_early", "not_lifted", "interrupted"]


class PressRecord(Record):
    """One cold press as it goes into the logbook and out as JSON. What was not measured is None.

    `load_kg` are the weights alone, `load_n` is their weight with the lap's. Places are distances of the
    lap's centre from the mirror's. `over_s` is how long the lap lay there after its time was up.
    """

    event: Literal["press_record"] = "press_record"
    outcome: PressOutcome
    mirror: str = ""
    lap: str = ""
    load_kg: float = Field(gt=0.0)
    load_n: float = Field(gt=0.0)
    planned_s: float = Field(ge=0.0)
    length_s: float = Field(ge=0.0)
    shift_at_s: float | None = None
    shifted: bool = False
    first_place_m: float
    first_place_s: float = Field(ge=0.0)
    second_place_m: float | None = None
    second_place_s: float = Field(default=0.0, ge=0.0)
    turned_deg: float | None = None
    wettings: int = Field(default=0, ge=0)
    over_s: float = Field(default=0.0, ge=0.0)
    room_temperature_c: float | None = None
    room_temperature_end_c: float | None = None
    settled_low_m: float | None = None
    settled_high_m: float | None = None
    """How far a facet flowed, a range: squeeze flow with a viscosity that is not known well."""
    simulated: bool = False
    note: str = Field(default="", max_length=2000)
