"""Weights on the lap, piece by piece."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from pydantic import Field, model_validator

from benchctl import units
from benchctl.models.quantities import LengthM, MassKg, Record


class Piece(Record):
    """One weight as it stands on the lap: kilograms, held or loose, metres from the lap's centre."""

    mass_kg: float = Field(gt=0.0, le=200.0)
    captured: bool = True
    radius_m: float = Field(default=0.0, ge=0.0, le=1.5)


class Weight(Record):
    """One weight as a job file has it: "2.5 kg" alone, or a table of mass, captured and radius.

    What it leaves out is said once for all by `weights_captured` and `weights_radius`.
    """

    mass_kg: MassKg = Field(alias="mass", gt=0.0, le=200.0)
    captured: bool | None = None
    radius_m: LengthM | None = Field(default=None, alias="radius", ge=0.0, le=1.5)

    @model_validator(mode="before")
    @classmethod
    def _mass_alone(cls, value: Any) -> Any:
        return value if isinstance(value, dict | Weight) else {"mass": value}

    def placed(self, captured: bool, radius_m: float) -> Piece:
        """The piece, with what the file says for all of them where it says nothing itself."""
        return Piece(
            mass_kg=self.mass_kg,
            captured=captured if self.captured is None else self.captured,
            radius_m=radius_m if self.radius_m is None else self.radius_m,
        )


def weights_words(pieces: Sequence[Piece], system: str = units.METRIC) -> str:
    """Weights as pieces with their sum, "4 x 2.5 + 2 x 2 = 14 kg"; loose ones are called so.

    Two places after the point at most; "none" without a piece.
    """
    if not pieces:
        return "none"
    terms = [
        f"{f'{count} x ' if count > 1 else ''}{_plain(mass_kg, system)}{'' if captured else ' LOOSE'}"
        for (mass_kg, captured), count in Counter((one.mass_kg, one.captured) for one in pieces).items()
    ]
    total = _plain(sum(one.mass_kg for one in pieces), system)
    return f"{' + '.join(terms)} = {total} {units.mark_of(units.MASS, system)}"


def _plain(mass_kg: float, system: str) -> str:
    text = units.show_number(mass_kg, units.MASS, system, 2)
    return text.rstrip("0").rstrip(".")
