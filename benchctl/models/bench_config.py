"""The bench's own file, bench.toml: where the board is, what it is wired to, and which job the screen opens.

What the board has stored decides; the [board] part says what it should have, so that `benchctl check` sees
a board that was swapped or has lost its settings. [pins] goes into the board's wiring file when its files
are put on it.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, ValidationError, ValidationInfo, model_validator

from benchctl import units
from benchctl.errors import BadInput
from benchctl.models.config_place import config_path
from benchctl.models.quantities import Record
from benchctl.models.validation import first_complaint
from benchctl.models.whole_file import replace_whole

RAMP = units.Kind("ramp", "radian / second ** 2", "1 rad/s^2")
"""How fast the table's speed changes: an angular acceleration."""


def _limits(kind: units.Kind, least: float, most: float, unit: str) -> tuple[BeforeValidator, AfterValidator]:
    """Reads a quantity with its unit, and holds it to what the board takes."""

    def read(value: object, info: ValidationInfo) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool) and (info.context or {}).get("si"):
            return float(value)
        text = (
            value.replace("rad/s2", "rad/s^2").replace("rad/", "radian/") if isinstance(value, str) else value
        )
        return units.read(text, kind)

    def hold(value: float) -> float:
        if not least <= value <= most:
            raise ValueError(
                f"{value:g} {unit} is outside {least:g} to {most:g} {unit}; change it and try again"
            )
        return value

    return BeforeValidator(read), AfterValidator(hold)


Ceiling = Annotated[float, *_limits(units.TURNING_SPEED, 1.0, 60.0, "rpm")]
FullScale = Annotated[float, *_limits(units.TURNING_SPEED, 1.0, 120.0, "rpm")]
RampUp = Annotated[float, *_limits(RAMP, 0.05, 2.0, "rad/s^2")]
PlannedStop = Annotated[float, *_limits(RAMP, 0.2, 4.0, "rad/s^2")]
FaultStop = Annotated[float, *_limits(RAMP, 0.5, 8.0, "rad/s^2")]
PowerOff = Annotated[float, *_limits(units.DURATION, 0.5, 10.0, "s")]
LoadLimit = Annotated[float, *_limits(units.SHARE, 0.05, 2.0, "of rated load")]
Debounce = Annotated[float, *_limits(units.DURATION, 50e-6, 0.02, "s")]
Pin = Annotated[int, Field(strict=True, ge=0, le=28)]


class BoardPlan(Record):
    """What the board of this bench should have stored. Speeds in rpm, ramps in rad/s2, times in seconds.

    A key that is left out is not compared. The limits are those of the board's own table of settings.
    """

    board_id: str | None = Field(default=None, alias="id", min_length=1, max_length=16)
    table_edges_per_turn: int | None = Field(default=None, strict=True, ge=1, le=255)
    lap_edges_per_turn: int | None = Field(default=None, strict=True, ge=1, le=255)
    ceiling_rpm: Ceiling | None = Field(default=None, alias="ceiling")
    ramp_up_rad_s2: RampUp | None = Field(default=None, alias="ramp_up")
    planned_stop_rad_s2: PlannedStop | None = Field(default=None, alias="planned_stop")
    fault_stop_rad_s2: FaultStop | None = Field(default=None, alias="fault_stop")
    power_off_after_s: PowerOff | None = Field(default=None, alias="power_off_after")
    load_limit: LoadLimit | None = None
    load_zero_counts: int | None = Field(default=None, strict=True, ge=0, le=65534)
    load_span_counts: int | None = Field(default=None, strict=True, ge=1, le=65535)
    full_scale_rpm: FullScale | None = Field(default=None, alias="full_scale")
    pedal_fitted: bool | None = Field(default=None, strict=True)
    lap_sensor_fitted: bool | None = Field(default=None, strict=True)
    readback_fitted: bool | None = Field(default=None, strict=True)
    debounce_s: Debounce | None = Field(default=None, alias="debounce")


class Pins(Record):
    """GPn numbers of an RP2040 board; what is left out stays as the wiring page has it."""

    link_uart_tx: Pin = 0
    link_uart_rx: Pin = 1
    table_sensor: Pin = 2
    lap_sensor: Pin = 3
    estop_contact: Pin = 4
    pedal: Pin = 5
    power_readback: Pin = 6
    enable: Pin = 7
    contactor: Pin = 8
    speed: Pin = 9
    buzzer: Pin = 10
    lamp: Pin = 11
    service_jumper: Pin = 22
    load_adc: Annotated[int, Field(strict=True, ge=26, le=28)] = 26

    @model_validator(mode="after")
    def _each_once(self) -> Pins:
        seen: dict[int, str] = {}
        for name, pin in self.model_dump().items():
            if pin in seen:
                raise ValueError(f"{seen[pin]} and {name} are both on GP{pin}; give each its own pin")
            seen[pin] = name
        return self


class BenchConfig(Record):
    """What `benchctl` without a command opens, and what `benchctl check` compares with."""

    port: str = Field(min_length=1, max_length=300)
    """A path, or a USB id `VVVV:PPPP` or `VVVV:PPPP:SERIAL` as `benchctl ports` shows it."""
    job: str | None = Field(default=None, max_length=1000)
    board: BoardPlan = BoardPlan()
    pins: Pins | None = None


def configured_bench() -> BenchConfig | None:
    """The configured bench, or None where there is no bench.toml. BadInput where it cannot be read."""
    path = config_path()
    if not path.exists():
        return None
    try:
        return BenchConfig.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInput(f"{path}: cannot be read: {error}; correct it or remove it") from error
    except ValidationError as error:
        raise BadInput(f"{path}: {first_complaint(error)}") from error


def keep_bench(config: BenchConfig) -> Path:
    """Write bench.toml whole; what was there before is kept as bench.toml.before.

    BadInput where the folder cannot be written.
    """
    path = config_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists():
            replace_whole(path.with_name("bench.toml.before"), path.read_bytes())
        replace_whole(path, as_toml(config).encode("utf-8"))
    except OSError as error:
        reason = (error.strerror or "not possible").lower()
        raise BadInput(f"cannot write {path}: {reason}; check the folder's rights") from error
    return path


_UNITS = {
    "ceiling": (1.0, "rpm"),
    "ramp_up": (1.0, "rad/s^2"),
    "planned_stop": (1.0, "rad/s^2"),
    "fault_stop": (1.0, "rad/s^2"),
    "power_off_after": (1.0, "s"),
    "load_limit": (100.0, "%"),
    "full_scale": (1.0, "rpm"),
    "debounce": (1000.0, "ms"),
}


def as_toml(config: BenchConfig) -> str:
    """The file's text: quantities with their units, keys without a value left out."""
    kept = config.model_dump(by_alias=True, exclude_none=True)
    lines = [f"{key} = {_value(key, kept[key])}" for key in ("port", "job") if key in kept]
    for part in ("board", "pins"):
        if kept.get(part):
            lines += ["", f"[{part}]"]
            lines += [f"{key} = {_value(key, value)}" for key, value in kept[part].items()]
    return "\n".join(lines) + "\n"


def _value(key: str, value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        factor, unit = _UNITS[key]
        return f'"{value * factor:.6g} {unit}"'
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
