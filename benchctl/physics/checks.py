"""Refusals: what a number must be before a formula may have it."""

from __future__ import annotations

import math

from benchctl.errors import BadInput


def finite(name: str, value: object) -> float:
    """`value` as a finite float; BadInput names the argument otherwise."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadInput(f"{name}: {value!r} is not a finite number; give a plain number in SI units")
    return float(value)


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
