"""The glass."""

from __future__ import annotations

from typing import Literal, NamedTuple, Self

from pydantic import Field, model_validator

from benchctl.models.quantities import LengthM, Record

Glass = Literal["borosilicate 3.3", "fused silica", "soda-lime plate", "borosilicate crown"]


class GlassData(NamedTuple):
    """Handbook values of a glass, SI. Borosilicate 3.3 from data sheets; the others from memory."""

    density_kg_m3: float
    heat_capacity_j_kg_k: float
    conductivity_w_m_k: float
    expansion_per_k: float
    preston_per_pa: float
    """Where to begin before the person's own log says better; the spread is a factor of five."""


GLASSES: dict[str, GlassData] = {
    "borosilicate 3.3": GlassData(2230.0, 830.0, 1.2, 3.3e-6, 6e-13),
    "fused silica": GlassData(2200.0, 740.0, 1.38, 0.55e-6, 3.5e-13),
    "soda-lime plate": GlassData(2500.0, 840.0, 1.0, 9e-6, 8e-13),
    "borosilicate crown": GlassData(2510.0, 858.0, 1.114, 7.1e-6, 8e-13),
}


class Mirror(Record):
    """A mirror blank: lengths in metres, focal ratio as a pure number."""

    name: str = Field(min_length=1, max_length=60)
    diameter_m: LengthM = Field(alias="diameter", ge=0.05, le=3.0)
    focal_ratio: float = Field(ge=1.0, le=30.0)
    glass: Glass
    edge_thickness_m: LengthM = Field(alias="edge_thickness", gt=0.0, le=0.5)
    hole_diameter_m: LengthM = Field(default=0.0, alias="hole_diameter", ge=0.0)
    last_abrasive_m: LengthM = Field(alias="last_abrasive", ge=0.5e-6, le=200e-6)

    @model_validator(mode="after")
    def _hole_fits(self) -> Self:
        if self.hole_diameter_m >= self.diameter_m:
            raise ValueError("hole_diameter must be smaller than the mirror's diameter")
        return self

    @property
    def radius_m(self) -> float:
        return self.diameter_m / 2

    @property
    def hole_radius_m(self) -> float:
        return self.hole_diameter_m / 2

    @property
    def curve_radius_m(self) -> float:
        """Radius of curvature, 2 N D."""
        return 2 * self.focal_ratio * self.diameter_m

    @property
    def glass_data(self) -> GlassData:
        return GLASSES[self.glass]
