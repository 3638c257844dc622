"""One contact to solve, as plain keys and numbers in SI: read, checked, refused in one sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Array
from benchctl.physics.checks import at_most, finite
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import PRESSURE_LAWS, PressureLaw

FrictionLaw = Literal["coulomb", "film", "wetted"]
FRICTION_LAWS: tuple[str, ...] = get_args(FrictionLaw)
_SIZES = {"mirror_radius_m": None, "lap_radius_m": None, "post_offset_m": None, "hole_radius_m": 0.0}
_AMOUNTS = {
    "load_n": None,
    "table_speed_rad_per_s": None,
    "pivot_height_m": 0.0,
    "post_drag_nm": 0.0,
    "post_drag_viscous_nm_s": 0.0,
    "preston_per_pa": None,
}
_KEYS = {*_SIZES, *_AMOUNTS, "friction_coefficient", "film_rate", "pressure_law", "friction_law", "radii_m"}
RADII = 41
_SMALLEST_M, _LARGEST_M, _MOST = 1e-6, 1e3, 1e9
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Case:
    """A checked case. `film_rate` in Pa s/m for a film, s/m for wetted pitch; 0 under Coulomb friction."""

    contact: Contact
    load_n: float
    table_rad_s: float
    pivot_height_m: float
    post_drag_nm: float
    post_drag_viscous_nm_s: float
    preston_per_pa: float
    friction_coefficient: float
    film_rate: float
    pressure_law: PressureLaw
    friction_law: FrictionLaw
    radii_m: Array


def read_case(given: Mapping[str, Any]) -> Case:
    """Check a case's keys and numbers. BadInput names the key, what is wrong and what would do.

    Without `radii_m`, 41 radii evenly spaced from the hole, or the centre, to the rim.
    """
    if not isinstance(given, Mapping):
        raise BadInput(f"a case is an object of keys and numbers, not {type(given).__name__}")
    for key in given:
        if key not in _KEYS:
            raise BadInput(f"{str(key)[:40]}: unknown key; use {', '.join(sorted(_KEYS))}")
    sizes = [at_most(key, _wanted(given, key, default), _LARGEST_M) for key, default in _SIZES.items()]
    if 0.0 < min(sizes[:2]) < _SMALLEST_M:
        raise BadInput(f"lap_radius_m, mirror_radius_m: must be at least {_SMALLEST_M:g}; give metres")
    contact = Contact(*sizes)
    amounts = {key: at_most(key, _wanted(given, key, default), _MOST) for key, default in _AMOUNTS.items()}
    friction_law = _word(given, "friction_law", "coulomb", FRICTION_LAWS)
    coefficient, film_rate = _friction(given, friction_law)
    return Case(
        contact=contact,
        load_n=amounts["load_n"],
        table_rad_s=amounts["table_speed_rad_per_s"],
        pivot_height_m=amounts["pivot_height_m"],
        post_drag_nm=amounts["post_drag_nm"],
        post_drag_viscous_nm_s=amounts["post_drag_viscous_nm_s"],
        preston_per_pa=amounts["preston_per_pa"],
        friction_coefficient=coefficient,
        film_rate=film_rate,
        pressure_law=cast(PressureLaw, _word(given, "pressure_law", "no_tension", PRESSURE_LAWS)),
        friction_law=cast(FrictionLaw, friction_law),
        radii_m=_radii(given, contact),
    )


def _wanted(given: Mapping[str, Any], key: str, default: float | None) -> Any:
    value = given.get(key, default)
    if value is None:
        raise BadInput(f"{key}: is missing; add it as a number in SI units")
    return value


def _word(given: Mapping[str, Any], key: str, default: str, known: tuple[str, ...]) -> str:
    word = given.get(key, default)
    if word not in known:
        raise BadInput(f"{key}: {str(word)[:40]!r} is not known; use one of {', '.join(known)}")
    return str(word)


def _friction(given: Mapping[str, Any], law: str) -> tuple[float, float]:
    """Friction coefficient and film rate; the one that the law does not use may be left out."""
    needed, other = (
        ("friction_coefficient", "film_rate") if law == "coulomb" else ("film_rate", "friction_coefficient")
    )
    value = at_most(needed, _wanted(given, needed, None), _MOST)
    if value < 1.0 / _MOST:
        raise BadInput(f"{needed}: {value:g} must be more than 0; change it and try again")
    at_most(other, _wanted(given, other, 0.0), _MOST)
    return (value, 0.0) if law == "coulomb" else (0.0, value)


def _radii(given: Mapping[str, Any], contact: Contact) -> Array:
    low, high = contact.hole_radius_m, contact.mirror_radius_m
    wanted = given.get("radii_m")
    if wanted is None:
        return np.linspace(low, high, RADII)
    if isinstance(wanted, str | bytes | Mapping) or not hasattr(wanted, "__iter__"):
        raise BadInput(f"radii_m: {str(wanted)[:40]!r} is not a list; give radii in metres")
    radii = np.array([finite(f"radii_m[{i}]", value) for i, value in enumerate(wanted)], dtype=float)
    for i, radius in enumerate(radii):
        if not low - _ROUNDING * high <= radius <= high * (1 + _ROUNDING):
            raise BadInput(
                f"radii_m[{i}]: {radius:g} is off the glass; it must lie between {low:g} and {high:g}"
            )
    return np.asarray(np.clip(radii, low, high), dtype=float)
