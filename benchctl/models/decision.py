"""What was decided after a look at the glass: one change, what it was foretold to do, and why."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from benchctl.models.inspection import ZONES
from benchctl.models.quantities import Record

Change = Annotated[float, Field(ge=-1.0, le=10.0)]
"""A change of depth per segment as a share of what it was: 0.10 is a tenth more."""
Zones = Annotated[tuple[Change, ...], Field(min_length=ZONES, max_length=ZONES)]

Left = tuple[float | None, float | None, float | None]


class Settings(Record):
    """The new values of what was changed; None is as before."""

    post_offset_m: Annotated[float, Field(ge=0.0, le=1.5)] | None = None
    load_n: Annotated[float, Field(ge=0.0, le=5000.0)] | None = None
    work_rpm: Annotated[float, Field(gt=0.0, le=120.0)] | None = None
    length_s: Annotated[float, Field(gt=0.0, le=36000.0)] | None = None


class Predicted(Record):
    """What the change should do to the depth per segment, by zone, inmost first, and in the last 5 mm.

    `zones_low` and `zones_high` are the range in which four of five should lie.
    """

    zones: Zones
    edge: Change | None = None
    zones_low: Zones | None = None
    zones_high: Zones | None = None
    left: Annotated[tuple[Left, ...], Field(min_length=ZONES + 1, max_length=ZONES + 1)] | None = None
    """Segments left by zone and in the last 5 mm, if it is followed: one in ten, half, nine in ten."""


class Decision(Record):
    """A decision: in words, in figures, what was advised, and why another was taken."""

    decision: str = Field(min_length=1, max_length=200)
    mirror: str = Field(default="", max_length=60)
    segment: str = Field(default="", max_length=40)
    changes: Settings = Settings()
    advised: str = Field(default="", max_length=200)
    act: str = Field(default="", max_length=20)
    """What kind of act it is, in a word: post, load, speed, charge, press, trim, stop, ..."""
    taken: Literal["accepted", "declined", "own"] = "own"
    reason: str = Field(default="", max_length=400)
    """Why it was advised, in the program's one sentence."""
    why: str = Field(default="", max_length=500)
    """Why it was done, or not, in the person's words."""
    predicted: Predicted | Annotated[str, Field(max_length=500)] | None = None
    """In words where an older program or a person wrote it."""
