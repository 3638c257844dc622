"""One contact solved as a whole: pressure, spin, torques, heat, removal and its evenness."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Boundary
from benchctl.physics.case import Case, read_case
from benchctl.physics.evenness import Turning, survey
from benchctl.physics.friction import friction, unit_friction
from benchctl.physics.pressure import Pressure
from benchctl.physics.spin import steady_ratio, turning_ratio
from benchctl.physics.tilt import Ratio, Tilting
from benchctl.physics.viscous import Sums, film_friction, wetted_friction

PULLS = "the linear pressure is below 0 on part of the face, which no lap can do; use no_tension"
LIFTS = "part of the face carries nothing: the lap lifts there"


@dataclass(frozen=True)
class Steady:
    """The steady state: pressure, lap speed over table speed, torque with the lap held (N m)."""

    pressure: Pressure
    spin_ratio: float
    stall_torque_nm: float
    stalled: bool


def solve_contact(case: Mapping[str, Any]) -> dict[str, Any]:
    """Solve one case of plain keys and numbers in SI (see `case.read_case`); returns plain values.

    Keys: contact_area_m2, overhang_fraction, mean_pressure_pa, pressure_coefficients [a, b, c] (Pa, Pa/m),
    pressure_min_pa, face_lifted, stall_torque_nm, stalled, spin_ratio, friction_power_w, table_torque_nm,
    volume_rate_m3_per_s, mean_rate_m_per_s, evenness_cv, evenness_pv, edge_over_centre, radii_m,
    removal_rate_m_per_s, zone_rates_m_per_s (five zones), post_force_n, warnings. None where a figure has
    no finite value. BadInput names the key that cannot be.
    """
    return answer(read_case(case))


def answer(case: Case) -> dict[str, Any]:
    """The answer to a checked case, as `solve_contact` gives it."""
    contact, steady = case.contact, steady_state(case)
    pressure, ratio = steady.pressure, steady.spin_ratio
    table, lap = case.table_rad_s, ratio * case.table_rad_s
    torque, force, power, rubbing = _loads(case, steady)
    turning = Turning(contact, pressure, table, lap, case.preston_per_pa)
    found = survey(turning, case.radii_m)
    volume = case.preston_per_pa * rubbing
    ring = math.pi * (contact.mirror_radius_m**2 - contact.hole_radius_m**2)
    return {
        "contact_area_m2": contact.area_m2,
        "overhang_fraction": contact.overhang_fraction,
        "mean_pressure_pa": case.load_n / contact.area_m2,
        "pressure_coefficients": [pressure.a, pressure.b, pressure.c],
        "pressure_min_pa": pressure.lowest_pa,
        "face_lifted": pressure.lifted,
        "stall_torque_nm": steady.stall_torque_nm,
        "stalled": steady.stalled,
        "spin_ratio": ratio,
        "friction_power_w": power,
        "table_torque_nm": torque + contact.post_offset_m * force[1],
        "volume_rate_m3_per_s": volume,
        "mean_rate_m_per_s": volume / ring,
        "evenness_cv": found.cv,
        "evenness_pv": found.pv,
        "edge_over_centre": found.edge_over_centre,
        "radii_m": case.radii_m.tolist(),
        "removal_rate_m_per_s": found.rates_m_per_s.tolist(),
        "zone_rates_m_per_s": found.zone_rates_m_per_s,
        "post_force_n": math.hypot(*force),
        "warnings": _warnings(pressure),
    }


def _warnings(pressure: Pressure) -> list[str]:
    if pressure.lifted:
        return [LIFTS]
    return [PULLS] if pressure.lowest_pa < 0.0 else []


def _loads(case: Case, steady: Steady) -> tuple[float, tuple[float, float], float, float]:
    """Torque on the lap (N m), force on the lap (N), heat (W), integral of p |v| (W)."""
    offset, table, lap = case.contact.post_offset_m, case.table_rad_s, steady.spin_ratio * case.table_rad_s
    pressure = steady.pressure
    rubbing = friction(case.contact, pressure, table, lap).rubbing_w
    loaded = case.load_n > 0.0 or case.friction_law == "film"
    if not loaded:
        return 0.0, (0.0, 0.0), 0.0, 0.0
    torque, force_x, force_y = _act(case, pressure, table, lap)
    if not steady.stalled and table > 0.0:
        torque = math.copysign(case.post_drag_nm, lap) + case.post_drag_viscous_nm_s * lap
    if case.friction_law == "coulomb":
        power = case.friction_coefficient * rubbing
    else:
        power = (table - lap) * torque + table * offset * force_y
    return torque, (force_x, force_y), power, rubbing


def steady_state(case: Case) -> Steady:
    """Pressure and spin that hold together: held still if the drag can hold the lap, else turning.

    A case without load, or with the table at rest, is taken in the limit of a vanishing load or speed.
    """
    table = case.table_rad_s or 1.0
    tilting = Tilting(
        case.contact,
        case.load_n or 1.0,
        case.pivot_height_m if case.load_n > 0.0 else 0.0,
        case.pressure_law,
        lambda part: _friction_on(case, part, table),
    )
    still, _ = tilting.settle(lambda torque, pulls: 0.0)
    held = float(np.array(still.coefficients) @ _friction_on(case, still.pressed, table)(1.0, 0.0)[:, 0])
    drag, viscous = _drag(case)
    if abs(held) <= drag:
        return Steady(_as_loaded(case, still), 0.0, _as_found(case, held), True)
    signed = math.copysign(drag, held)
    if case.friction_law == "coulomb" and not tilting.tilts:
        pressure = tilting.level
        ratio = turning_ratio(case.contact, pressure, case.friction_coefficient, signed, viscous)
    else:
        pressure, ratio = tilting.settle(_ratio(case, tilting, signed, viscous))
    return Steady(_as_loaded(case, pressure), ratio, _as_found(case, held), False)


def _friction_on(case: Case, part: Boundary, table: float) -> Sums:
    """Friction on a pressed part, asked with speeds in units of the table's: (1, ratio)."""
    if case.friction_law == "coulomb":
        mu = case.friction_coefficient
        return lambda one, ratio: mu * unit_friction(case.contact, part, one, ratio)[:, :3]
    if case.friction_law == "film":
        return film_friction(case.contact, part, case.film_rate * table, case.load_n or 1.0)
    return wetted_friction(case.contact, part, case.film_rate * table)


def _act(case: Case, pressure: Pressure, table: float, lap: float) -> tuple[float, float, float]:
    """Lap torque and force on the lap at these speeds."""
    ratio = lap / table if table > 0.0 else 0.0
    sums = _friction_on(case, pressure.pressed, table)(1.0, ratio)
    if case.friction_law == "film":
        shares = np.array(pressure.pressed.moments[:3])
        return _three(np.array([1.0, 0.0, 0.0]) * (case.load_n or 1.0) / shares[0] @ sums)
    return _three(np.array(pressure.coefficients) @ sums)


def _three(values: Any) -> tuple[float, float, float]:
    one, two, three = (float(value) for value in values)
    return one, two, three


def _ratio(case: Case, tilting: Tilting, drag: float, viscous: float) -> Ratio:
    scale = case.friction_coefficient * tilting.load_n * case.contact.lap_radius_m
    last: list[float | None] = [None]

    def coulomb(torque: Callable[[float, float], float], pulls: bool) -> float:
        near = None if pulls else last[0]
        found = steady_ratio(case.contact, torque, drag, viscous, scale, pulls, near)
        last[0] = found
        return found

    def growing(torque: Callable[[float, float], float], pulls: bool) -> float:
        return _secant(lambda ratio: torque(1.0, ratio) - drag - viscous * ratio)

    return coulomb if case.friction_law == "coulomb" else growing


def _secant(function: Callable[[float], float]) -> float:
    """Root of a nearly linear function by the secant method, from 0 and 1."""
    (before, low), (now, value) = (0.0, function(0.0)), (1.0, function(1.0))
    for _ in range(60):
        if value == low or abs(now - before) <= 1e-14 * max(1.0, abs(now)):
            return now
        before, low, now = now, value, now - value * (now - before) / (value - low)
        value = function(now)
    raise BadInput("pivot_height_m: no steady speed was found; lower the drive point")


def _drag(case: Case) -> tuple[float, float]:
    """Constant drag and viscous drag at table speed (N m); without load or speed, 0 or endless."""
    constant, viscous = case.post_drag_nm, case.post_drag_viscous_nm_s * (case.table_rad_s or 1.0)
    if case.load_n == 0.0 and case.friction_law != "film":
        return (math.inf, 0.0) if constant or viscous else (0.0, 0.0)
    if case.table_rad_s == 0.0:
        return (constant, 0.0) if case.friction_law == "coulomb" else (math.inf if constant else 0.0, viscous)
    return constant, viscous


def _as_found(case: Case, torque: float) -> float:
    """The torque of the unit load or unit speed that stood in for none, as it really is."""
    gone = case.load_n == 0.0 and case.friction_law != "film"
    return 0.0 if gone or (case.table_rad_s == 0.0 and case.friction_law != "coulomb") else torque


def _as_loaded(case: Case, pressure: Pressure) -> Pressure:
    if case.load_n > 0.0:
        return pressure
    return Pressure(0.0, 0.0, 0.0, 0.0, case.contact.boundary, 0.0, False)
