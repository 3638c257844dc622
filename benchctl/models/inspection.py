"""A look at the glass: five zones and the last 5 mm, what was seen, and where. SI units, degrees.

The zones are rings of equal width from the hole (or the centre) to the edge, numbered outward from 1;
the last 5 mm of the rim are looked at by themselves. How to score, and what each score is worth, is
common practice; the angle of the lamp follows Rayleigh's criterion (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from benchctl.models.quantities import LengthM, Record, Share, TemperatureC
from benchctl.units import printable

ZONES = 5
EDGE_WIDTH_M = 0.005
PITS_COUNTABLE = 50
"""More pits than this in one field of the loupe are not counted but called too many."""
GREEN_LIGHT_M = 0.55e-6

FIELDS = 3
"""Fields of the loupe that may be counted in a zone."""
TOO_MANY = "too many"
TooMany = Literal["too many"]


def _countable(value: object) -> object:
    counted = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= PITS_COUNTABLE
    if counted or value == TOO_MANY:
        return value
    shown = printable(str(value), 40)
    raise ValueError(f"{shown} pits in a field; count 0 to {PITS_COUNTABLE}, or write '{TOO_MANY}' for more")


Pits = Annotated[int | TooMany, BeforeValidator(_countable)]
BlemishKind = Literal["sleek", "scratch", "pit", "stain", "dried compound", "chip", "other"]
KINDS: tuple[BlemishKind, ...] = get_args(BlemishKind)


class ZoneLook(Record):
    """What one zone shows. What was not looked at is None.

    `grey`: 0 none to 10 as fine ground, in the light of a lamp behind a mask, against a card of steps.
    `pits`: counts in fields of 20 mm under a loupe of ten times, up to three fields.
    `laser_spot`: brightness of the spot on the front face: 0 none, 1 just seen, 2 fainter than at the back,
    3 as bright as at the back or brighter. `steepest_angle_deg`: the steepest angle from the surface at
    which the lamp's image still holds.
    """

    grey: Annotated[float, Field(ge=0.0, le=10.0, strict=True)] | None = None
    pits: tuple[Pits, ...] | None = Field(default=None, min_length=1, max_length=FIELDS)
    laser_spot: Annotated[int, Field(ge=0, le=3, strict=True)] | None = None
    steepest_angle_deg: Annotated[float, Field(gt=0.0, le=90.0, strict=True)] | None = None

    @property
    def pits_mean(self) -> float | None:
        """Mean count a field; None where not counted or too many in any field."""
        counts = [one for one in self.pits or () if isinstance(one, int)]
        return sum(counts) / len(counts) if self.pits and len(counts) == len(self.pits) else None

    @property
    def roughness_m(self) -> float | None:
        """Largest rms roughness at which the image still holds: wavelength / (8 sin angle), metres.

        Rayleigh's criterion (from memory; Bennett and Porteus 1961 for the law of scatter), green light.
        """
        if self.steepest_angle_deg is None:
            return None
        return GREEN_LIGHT_M / (8 * math.sin(math.radians(self.steepest_angle_deg)))


class Blemish(Record):
    """Something on the glass: radius, and angle from rim mark 1, clockwise seen from the front."""

    kind: BlemishKind
    angle_deg: float = Field(ge=0.0, lt=360.0, strict=True)
    radius_m: LengthM = Field(ge=0.0, le=1.5)
    length_m: Annotated[LengthM, Field(ge=0.0, le=3.0)] | None = None
    note: str = Field(default="", max_length=200)


class Inspection(Record):
    """One look at the whole glass after a segment (`segment` is its id in the logbook, or empty)."""

    segment: str = Field(default="", max_length=40)
    mirror: str = Field(default="", max_length=60)
    zones: tuple[ZoneLook, ...] = Field(min_length=ZONES, max_length=ZONES)
    edge: ZoneLook = ZoneLook()
    blemishes: tuple[Blemish, ...] = Field(default=(), max_length=200)
    rim_looked_at: Share = Field(default=1.0, ge=0.0, le=1.0)
    glass_temperature_c: Annotated[TemperatureC, Field(ge=-10.0, le=80.0)] | None = None
    room_temperature_c: Annotated[TemperatureC, Field(ge=-10.0, le=50.0)] | None = None
    room_humidity: Annotated[Share, Field(ge=0.0, le=1.0)] | None = None
    note: str = Field(default="", max_length=2000)

    @model_validator(mode="after")
    def _something_seen(self) -> Inspection:
        if all(look == ZoneLook() for _, look in self.looks()) and not self.blemishes and not self.note:
            raise ValueError("nothing was looked at; score at least one zone, or put the look off")
        return self

    def looks(self) -> Iterator[tuple[str, ZoneLook]]:
        """The zones in the order they are looked at, always the same: '1' inmost to '5', then 'edge'."""
        for number, zone in enumerate(self.zones, start=1):
            yield str(number), zone
        yield "edge", self.edge


def zone_bounds_m(mirror_radius_m: float, hole_radius_m: float) -> list[tuple[float, float]]:
    """Inner and outer radius of each of the five zones, then of the last 5 mm, in metres."""
    width = (mirror_radius_m - hole_radius_m) / ZONES
    rings = [(hole_radius_m + i * width, hole_radius_m + (i + 1) * width) for i in range(ZONES)]
    return [*rings, (max(hole_radius_m, mirror_radius_m - EDGE_WIDTH_M), mirror_radius_m)]
