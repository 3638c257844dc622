"""How lap, weights and post stand for one segment, and the room around them."""

from __future__ import annotations

from pydantic import Field

from benchctl.models.quantities import (
    LengthM,
    MassKg,
    PrestonPerPa,
    Record,
    Share,
    SpeedMS,
    StrengthKgM3,
    TemperatureC,
    TorqueNm,
)
from benchctl.models.weights import Piece, Weight

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall (ISO 80000-3; exact by convention)."""


class Table(Record):
    """The turntable: diameter in metres, mass in kilograms."""

    diameter_m: LengthM = Field(default=0.5, alias="diameter", gt=0.05, le=4.0)
    mass_kg: MassKg = Field(default=10.0, alias="mass", gt=0.0, le=2000.0)


class Setup(Record):
    """The lap in use, the weights on it and the place of the post."""

    lap: str | None = Field(default=None, max_length=60)
    """Which of several laps is on the glass, by name."""
    post_offset_m: LengthM = Field(alias="post_offset", ge=0.0, le=1.5)
    weights: tuple[Weight, ...] = Field(default=(), max_length=40)
    others_captured: bool = Field(default=True, alias="weights_captured")
    """Holds for pieces that do not say themselves whether they are captured."""
    others_radius_m: LengthM = Field(default=0.0, alias="weights_radius", ge=0.0, le=1.5)
    """Holds for pieces that do not say themselves how far from the lap's centre they stand."""
    cleats: bool = True
    friction: float = Field(default=0.4, gt=0.0, le=1.5)
    post_drag_nm: TorqueNm = Field(default=0.0, alias="post_drag", ge=0.0, le=100.0)
    preston_per_pa: PrestonPerPa | None = Field(default=None, alias="preston", gt=1e-15, lt=1e-10)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The weights on the lap, each with its own place."""
        return tuple(one.placed(self.others_captured, self.others_radius_m) for one in self.weights)

    @property
    def weight_kg(self) -> float:
        return sum(one.mass_kg for one in self.weights)

    @property
    def weights_captured(self) -> bool:
        """Whether every piece is held; without pieces, what the file says."""
        return all(one.captured for one in self.pieces) if self.weights else self.others_captured

    @property
    def loose_radius_m(self) -> float:
        """How far out the outermost loose piece stands, or the outermost of all where none is loose."""
        loose = [one.radius_m for one in self.pieces if not one.captured]
        return max(loose or [one.radius_m for one in self.pieces], default=self.others_radius_m)


class Charge(Record):
    """The compound put on for a segment; strength in kilograms of powder per cubic metre of water."""

    compound: str = Field(default="cerium oxide", max_length=40)
    strength_kg_m3: StrengthKgM3 = Field(default=120.0, alias="strength", gt=0.0, le=2000.0)


class Room(Record):
    """Air around the bench: degrees Celsius, relative humidity as a fraction, draught in m/s."""

    temperature_c: TemperatureC = Field(default=20.0, alias="temperature", ge=-10.0, le=50.0)
    humidity: Share = Field(default=0.5, ge=0.0, le=1.0)
    draught_m_s: SpeedMS = Field(default=0.1, alias="draught", ge=0.0, le=10.0)
    film_m: LengthM = Field(default=50e-6, alias="water_film", gt=0.0, le=1e-3)
