"""Quantities as people write them, turned into SI at the edge of the program, and back.

Inside, everything is a plain number in SI (speeds of turning in rpm) whose name says its unit.
A quantity typed by a person carries its unit: "460 mm", "18 in", "25 lb", "0.36 psi". What people are shown
is in the units they chose, millimetres or inches; JSON, files and the logbook stay in SI.
The conversion is pint's, with a registry of only the units the trade writes; pint is imported
at the first conversion, since it takes about 0.2 s.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from benchctl.errors import BadInput

if TYPE_CHECKING:
    import pint

_DEFINITIONS = """
micro- = 1e-6 = u- = µ- = μ-
milli- = 1e-3 = m-
centi- = 1e-2 = c-
kilo- = 1e3 = k-
meter = [length] = m = metre
inch = 0.0254 * meter = in = inches
foot = 12 * inch = ft = feet
second = [time] = s = sec
minute = 60 * second = min
hour = 60 * minute = h = hr
gram = [mass] = g
pound = 453.59237 * gram = lb = lbs
ounce = 28.349523125 * gram = oz
newton = kilogram * meter / second ** 2 = N
pascal = newton / meter ** 2 = Pa
pound_force = 4.4482216152605 * newton = lbf
psi = pound_force / inch ** 2
watt = newton * meter / second = W
liter = 1e-3 * meter ** 3 = l = L = litre
radian = []
degree = 0.017453292519943295 * radian = deg
turn = 6.283185307179586 * radian = _ = revolution = rev
revolution_per_minute = revolution / minute = rpm
"""

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", re.ASCII)
_CELSIUS, _FAHRENHEIT = (1.0, 0.0), (5 / 9, -32 * 5 / 9)
_TEMPERATURE = {"degc": _CELSIUS, "c": _CELSIUS, "°c": _CELSIUS} | {
    "degf": _FAHRENHEIT,
    "f": _FAHRENHEIT,
    "°f": _FAHRENHEIT,
}


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: what it is called, the unit kept inside, an example for messages."""

    name: str
    unit: str
    example: str


LENGTH = Kind("length", "meter", "460 mm")
MASS = Kind("mass", "kilogram", "2.5 kg")
DURATION = Kind("time", "second", "16 min")
TURNING_SPEED = Kind("turning speed", "revolution_per_minute", "26 rpm")
PRESSURE = Kind("pressure", "pascal", "2.5 kPa")
FORCE = Kind("force", "newton", "189 N")
TORQUE = Kind("torque", "newton * meter", "0.3 N m")
INVERSE_PRESSURE = Kind("Preston coefficient", "1 / pascal", "6e-13 1/Pa")
CONCENTRATION = Kind("strength", "kilogram / meter ** 3", "12 g / 100 ml")
SPEED = Kind("speed", "meter / second", "0.1 m/s")
TEMPERATURE = Kind("temperature", "degC", "20 degC")
SHARE = Kind("share", "percent", "48 %")


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    registry.load_definitions(_DEFINITIONS.strip().splitlines())
    return registry


def read(text: object, kind: Kind) -> float:
    """Turn what a person wrote into a number in `kind.unit` (shares as a fraction of 1).

    Raises BadInput for a missing, unknown or unfitting unit and for anything not a finite number.
    """
    if not isinstance(text, str):
        raise BadInput(f"{text!r} has no unit; write a {kind.name} with its unit, such as '{kind.example}'")
    match = _NUMBER.match(text)
    if match is None:
        raise BadInput(f"'{printable(text)}' is not a {kind.name}; write it such as '{kind.example}'")
    value = _convert(float(match[1]), match[2], kind, text)
    if not math.isfinite(value):
        raise BadInput(f"'{printable(text)}' is not a finite {kind.name}; write it such as '{kind.example}'")
    return value


def _convert(number: float, unit: str, kind: Kind, text: str) -> float:
    if kind is SHARE and unit == "%":
        return number / 100.0
    if kind is TEMPERATURE and unit.lower() in _TEMPERATURE:
        factor, shift = _TEMPERATURE[unit.lower()]
        return number * factor + shift
    if kind in (SHARE, TEMPERATURE) or not unit:
        raise BadInput(f"'{printable(text)}' needs a unit that fits a {kind.name}, such as '{kind.example}'")
    try:
        return float(_registry().parse_expression(f"{number!r} * {_spell(unit)}").m_as(kind.unit))
    except Exception as error:
        raise BadInput(
            f"'{printable(text)}' is not a {kind.name} that can be read; write it such as '{kind.example}'"
        ) from error


def _spell(unit: str) -> str:
    """'N m' means newton times metre; pint wants the sign, and only names, numbers and signs get through."""
    if not re.fullmatch(r"[A-Za-zµμ0-9 /*^-]{1,40}", unit) or re.search(r"\d\s*(\*\*|\^)|\d{5}", unit):
        raise ValueError("not a unit")
    bracketed = re.sub(r"(?<![*^A-Za-z-])(\d+)\s*([A-Za-zµμ]+)", r"(\1 * \2)", unit)
    return re.sub(r"(?<=[A-Za-zµμ])\s+(?=[A-Za-zµμ])", " * ", bracketed)


METRIC, INCH = "metric", "inch"


@dataclass(frozen=True)
class Shown:
    """How a quantity is shown: the unit as pint reads it, as people read it, and decimal places."""

    unit: str
    mark: str
    places: int


_SHOWN: dict[str, dict[Kind, Shown]] = {
    METRIC: {
        LENGTH: Shown("millimeter", "mm", 0),
        MASS: Shown("kilogram", "kg", 1),
        PRESSURE: Shown("kilopascal", "kPa", 2),
        FORCE: Shown("newton", "N", 0),
        TORQUE: Shown("newton * meter", "N m", 2),
        SPEED: Shown("meter / second", "m/s", 2),
        TEMPERATURE: Shown("degC", "°C", 1),
    },
    INCH: {
        LENGTH: Shown("inch", "in", 2),
        MASS: Shown("pound", "lb", 1),
        PRESSURE: Shown("psi", "psi", 2),
        FORCE: Shown("pound_force", "lbf", 1),
        TORQUE: Shown("pound_force * foot", "lbf ft", 2),
        SPEED: Shown("inch / second", "in/s", 1),
        TEMPERATURE: Shown("degF", "°F", 1),
    },
}


def show(value: float | None, kind: Kind, system: str = METRIC, places: int | None = None) -> str:
    """A value in SI as people of `system` read it, with its unit; `--` for None."""
    shown = _SHOWN[system][kind]
    return "--" if value is None else f"{show_number(value, kind, system, places)} {shown.mark}"


def show_number(value: float, kind: Kind, system: str = METRIC, places: int | None = None) -> str:
    """As `show`, without the unit: for tables whose heading has it (`mark_of`)."""
    shown = _SHOWN[system][kind]
    return f"{in_system(value, kind, system):.{shown.places if places is None else places}f}"


def mark_of(kind: Kind, system: str = METRIC) -> str:
    """The unit that `show` writes after a number."""
    return _SHOWN[system][kind].mark


def in_system(value: float, kind: Kind, system: str = METRIC) -> float:
    """A value in SI (temperatures in degrees Celsius) turned into the unit in which `system` shows it."""
    shown = _SHOWN[system][kind]
    if kind is TEMPERATURE:
        factor, shift = _TEMPERATURE[shown.unit.lower()]
        return (value - shift) / factor
    return value * _shown_factor(kind, shown)


@cache
def _shown_factor(kind: Kind, shown: Shown) -> float:
    return float(_registry().parse_expression(f"1.0 * ({kind.unit})").m_as(shown.unit))


_IN_SENTENCES = {"mm": (LENGTH, 1e-3), "kg": (MASS, 1.0), "N m": (TORQUE, 1.0), "N": (FORCE, 1.0),
                 "kPa": (PRESSURE, 1e3)}  # fmt: skip
_QUANTITY = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) (mm|kg|N m|N|kPa)(?![\w/])")


def reword(sentence: str, system: str = METRIC) -> str:
    """A sentence of ours, made with metric quantities, with each of them in the units of `system`.

    For sentences that are kept as they were made, such as advice; never for what a person wrote.
    """

    def other(match: re.Match[str]) -> str:
        kind, factor = _IN_SENTENCES[match[2]]
        return show(float(match[1]) * factor, kind, system)

    return sentence if system == METRIC else _QUANTITY.sub(other, sentence)


_UNSAFE = (*range(0x20), *range(0x7F, 0xA0), 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A))
_CONTROL = dict.fromkeys(_UNSAFE, "?")


def printable(text: str, limit: int = 80) -> str:
    """Outside text made safe to show: control, escape and direction-changing characters become '?'."""
    clean = text.translate(_CONTROL)
    return clean if len(clean) <= limit else clean[: limit - 1] + "…"
