"""Refusals: what a number must be before a formula may have it."""

from __future__ import annotations

import math
from numbers import Real

from benchctl.errors import BadInput

_NOTHING = 1e-40


def finite(name: str, value: object) -> float:
    """`value` as a finite float; BadInput names the argument otherwise."""
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise BadInput(f"{name}: {value!r} is not a finite number; give a plain number in SI units")
    return float(value)


def at_most(name: str, value: object, top: float) -> float:
    """`value` as a finite float from 0 to `top` (beyond is a slip of the pen); under 1e-40 is 0."""
    number = not_negative(name, value)
    if number > top:
        raise BadInput(f"{name}: {number:g} must be at most {top:g}; change it and try again")
    return number if number > _NOTHING else 0.0


def positive(name: str, value: object) -> float:
    """`value` as a finite float above 0."""
    number = finite(name, value)
    if number <= 0.0:
        raise BadInput(f"{name}: {number:g} must be more than 0; change it and try again")
    return number


def not_negative(name: str, value: object) -> float:
    """`value` as a finite float of at least 0."""
    number = finite(name, value)
    if number < 0.0:
        raise BadInput(f"{name}: {number:g} must be at least 0; change it and try again")
    return number
