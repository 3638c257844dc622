"""Field types for models: written with a unit, kept in SI.

`LengthM` and its siblings take a text with a unit ("460 mm") or, from our own records, a number in SI
under validation with `context={"si": True}`; they give a float.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationInfo

from benchctl import units


class Record(BaseModel):
    """Base of all models: unknown keys are errors, values do not change, NaN and infinity are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def _reader(kind: units.Kind) -> BeforeValidator:
    def read(value: object, info: ValidationInfo) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool) and (info.context or {}).get("si"):
            return float(value)
        return units.read(value, kind)

    return BeforeValidator(read)


LengthM = Annotated[float, _reader(units.LENGTH)]
MassKg = Annotated[float, _reader(units.MASS)]
DurationS = Annotated[float, _reader(units.DURATION)]
TurningRpm = Annotated[float, _reader(units.TURNING_SPEED)]
TorqueNm = Annotated[float, _reader(units.TORQUE)]
PrestonPerPa = Annotated[float, _reader(units.INVERSE_PRESSURE)]
StrengthKgM3 = Annotated[float, _reader(units.CONCENTRATION)]
SpeedMS = Annotated[float, _reader(units.SPEED)]
TemperatureC = Annotated[float, _reader(units.TEMPERATURE)]
Share = Annotated[float, _reader(units.SHARE)]
