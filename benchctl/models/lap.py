"""The pitch lap."""

from __future__ import annotations

from pydantic import Field

from benchctl.models.quantities import LengthM, MassKg, Record


class Lap(Record):
    """A pitch lap on a rigid base: lengths in metres, mass in kilograms."""

    name: str = Field(default="lap", min_length=1, max_length=60)
    diameter_m: LengthM = Field(alias="diameter", ge=0.03, le=3.0)
    mass_kg: MassKg = Field(alias="mass", gt=0.0, le=300.0)
    base_thickness_m: LengthM = Field(default=0.03, alias="base_thickness", gt=0.0, le=0.3)
    pitch: str = Field(default="medium", max_length=40)
    pitch_thickness_m: LengthM = Field(default=0.006, alias="pitch_thickness", gt=0.0, le=0.03)
    facet_m: LengthM = Field(default=0.025, alias="facet", gt=0.0, le=0.3)
    channel_m: LengthM = Field(default=0.003, alias="channel", ge=0.0, le=0.05)
    drive_point_height_m: LengthM = Field(default=0.04, alias="drive_point_height", ge=0.0, le=0.5)

    @property
    def radius_m(self) -> float:
        return self.diameter_m / 2

    @property
    def land_fraction(self) -> float:
        """Share of the face that is facet, (facet / (facet + channel)) squared."""
        return float((self.facet_m / (self.facet_m + self.channel_m)) ** 2)
