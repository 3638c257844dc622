"""One clear sentence out of a failed validation."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from pydantic import ValidationError

from benchctl.errors import BadInput
from benchctl.units import printable

_LIMITS = {
    "greater_than": ("must be more than", "gt"),
    "greater_than_equal": ("must be at least", "ge"),
    "less_than": ("must be less than", "lt"),
    "less_than_equal": ("must be at most", "le"),
}
_COUNTS = {"too_short": ("at least", "min_length"), "too_long": ("at most", "max_length")}
_FIELDS_BY_UNIT = {
    " m": "diameter edge_thickness hole_diameter last_abrasive base_thickness pitch_thickness facet channel"
    " drive_point_height post_offset weights_radius water_film shift_by",
    " kg": "mass weights load",
    " N m": "post_drag",
    " degC": "temperature",
    " m/s": "draught",
    " rpm": "creep_speed step_speed work_speed ceiling wait_speed",
    " s": "length wet_call wait_unanswered rewet_every shift_at",
}
_UNIT_OF = {name: unit for unit, names in _FIELDS_BY_UNIT.items() for name in names.split()}


T = TypeVar("T")


def made(build: Callable[[], T]) -> T:
    """What `build` makes; a failed validation becomes BadInput with its first complaint."""
    try:
        return build()
    except ValidationError as error:
        raise BadInput(first_complaint(error)) from error


def first_complaint(error: ValidationError) -> str:
    """The first mistake of a ValidationError as 'field: value and limit; what to do'."""
    complaint = error.errors(include_url=False)[0]
    place = _place(complaint["loc"])
    return f"{place}: {_sentence(dict(complaint), place)}" if place else _sentence(dict(complaint), place)


def _place(parts: tuple[int | str, ...]) -> str:
    """Where it is; the zones of the mirror are counted from 1, as they are everywhere else."""
    if len(parts) > 1 and parts[0] == "zones" and isinstance(parts[1], int):
        parts = (f"zone {parts[1] + 1}", *parts[2:])
    return ".".join(printable(str(part)) for part in parts)


def _sentence(complaint: dict[str, Any], place: str) -> str:
    kind, context = complaint["type"], complaint.get("ctx", {})
    if kind in _LIMITS:
        words, key = _LIMITS[kind]
        unit = _UNIT_OF.get(next((p for p in reversed(place.split(".")) if not p.isdigit()), ""), "")
        value = complaint["input"]
        shown = f"{value:g}{unit}" if isinstance(value, int | float) else printable(str(value))
        return f"{shown} {words} {context[key]:g}{unit}; change it and try again"
    if kind == "extra_forbidden":
        return "unknown key; check its spelling or remove it"
    if kind == "missing":
        return "is missing; add it"
    if kind == "literal_error":
        return f"'{printable(str(complaint['input']))}' is not known; use {context['expected']}"
    if kind in _COUNTS:
        words, key = _COUNTS[kind]
        return f"{context['actual_length']} given; {words} {context[key]} are taken; change it and try again"
    message = str(complaint["msg"]).removeprefix("Value error, ")
    return (
        message
        if kind == "value_error"
        else f"{message[:1].lower()}{message[1:]}, got {_shown(complaint['input'])}"
    )


def _shown(value: object) -> str:
    return printable(repr(value), 60)
