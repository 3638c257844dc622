"""One contact solved as a whole: pressure, spin, torques, heat, removal and its evenness.

The post pushes on the lap at the pivot's height h, so friction F moves the centre of pressure to
    x_p = -h F_x/W,   y_p = -h F_y/W
(balance of moments about the pivot; derived, checked). Pressure and spin are solved together: a fixed point
of the centre of pressure, quickened by Broyden's method (1965, from memory). In step F = (0, mu W) at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Array
from benchctl.physics.case import Case, read_case
from benchctl.physics.evenness import Turning, survey
from benchctl.physics.friction import Friction, friction, friction_torques
from benchctl.physics.pressure import Pressure, solve_pressure
from benchctl.physics.spin import turning_ratio
from benchctl.physics.viscous import ViscousFriction, film, wetted

_ROUNDS = 60
_SETTLED = 1e-12
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
    sums = friction(case.contact, steady.pressure, table, lap)
    if case.friction_law == "coulomb":
        mu = case.friction_coefficient
        torque, force = mu * sums.lap_nm, (mu * sums.force_x_n, mu * sums.force_y_n)
        power = mu * sums.rubbing_w
    else:
        viscous = _viscous(case, steady.pressure)
        torque, force = viscous.lap_nm(offset, table, lap), viscous.force_n(offset, table, lap)
        power = viscous.power_w(offset, table, lap)
    if not steady.stalled and table > 0.0 and (case.load_n > 0.0 or case.friction_law == "film"):
        torque = math.copysign(case.post_drag_nm, lap) + case.post_drag_viscous_nm_s * lap
    return torque, force, power, sums.rubbing_w


def _viscous(case: Case, pressure: Pressure) -> ViscousFriction:
    if case.friction_law == "film":
        return film(case.contact, case.film_rate)
    return wetted(pressure, case.film_rate)


def steady_state(case: Case) -> Steady:
    """Pressure and spin that hold together: held still if the drag can hold the lap, else turning.

    A case without load, or with the table at rest, is taken in the limit of a vanishing load or speed.
    """
    load, table = case.load_n or 1.0, case.table_rad_s or 1.0
    still = _settle(case, load, lambda pressure: 0.0)
    held = _torque(case, still, table)
    drag, viscous = _drag(case)
    if abs(held) <= drag:
        return Steady(_as_loaded(case, still), 0.0, _as_found(case, held), True)
    signed = math.copysign(drag, held)

    def ratio(pressure: Pressure) -> float:
        if case.friction_law == "coulomb":
            return turning_ratio(case.contact, pressure, case.friction_coefficient, signed, viscous)
        moments = _viscous(case, pressure)
        driving = table * (case.contact.post_offset_m * moments.mx + moments.m2)
        return (driving - signed) / (table * moments.m2 + viscous)

    pressure = _settle(case, load, ratio) if _tilts(case) else still
    return Steady(_as_loaded(case, pressure), ratio(pressure), _as_found(case, held), False)


def _drag(case: Case) -> tuple[float, float]:
    """Constant drag and viscous drag at table speed (N m); without load or speed, 0 or endless."""
    constant, viscous = case.post_drag_nm, case.post_drag_viscous_nm_s * (case.table_rad_s or 1.0)
    if case.load_n == 0.0 and case.friction_law != "film":
        return (math.inf, 0.0) if constant or viscous else (0.0, 0.0)
    if case.table_rad_s == 0.0:
        return (constant, 0.0) if case.friction_law == "coulomb" else (math.inf if constant else 0.0, viscous)
    return constant, viscous


def _torque(case: Case, pressure: Pressure, table: float) -> float:
    """Torque on the lap held still, N m."""
    if case.friction_law == "coulomb":
        return case.friction_coefficient * friction_torques(case.contact, pressure, table, 0.0)[0]
    return _viscous(case, pressure).lap_nm(case.contact.post_offset_m, table, 0.0)


def _as_found(case: Case, torque: float) -> float:
    """The torque of the unit load or unit speed that stood in for none, as it really is."""
    gone = case.load_n == 0.0 and case.friction_law != "film"
    return 0.0 if gone or (case.table_rad_s == 0.0 and case.friction_law != "coulomb") else torque


def _as_loaded(case: Case, pressure: Pressure) -> Pressure:
    if case.load_n > 0.0:
        return pressure
    return Pressure(0.0, 0.0, 0.0, 0.0, case.contact.boundary, 0.0, False)


def _tilts(case: Case) -> bool:
    return case.pivot_height_m > 0.0 and case.load_n > 0.0 and case.pressure_law != "uniform"


def _settle(case: Case, load: float, ratio: Callable[[Pressure], float]) -> Pressure:
    """The pressure whose own friction, at the speed it implies, puts its centre where it is."""
    if not _tilts(case):
        return solve_pressure(case.contact, load, case.pressure_law)
    try:
        return _settle_tilted(case, ratio)
    except BadInput as error:
        if not str(error).startswith("post_offset_m"):
            raise
        raise BadInput(
            f"pivot_height_m: at {case.pivot_height_m:g} friction tips the lap over; lower the drive point"
        ) from error


def _settle_tilted(case: Case, ratio: Callable[[Pressure], float]) -> Pressure:
    def moved(centre: Array) -> tuple[Pressure, Array]:
        pressure = solve_pressure(case.contact, case.load_n, case.pressure_law, (centre[0], centre[1]))
        force = _force(case, pressure, ratio(pressure))
        return pressure, -case.pivot_height_m / case.load_n * np.array(force) - centre

    centre = np.array([0.0, -case.pivot_height_m * case.friction_coefficient])
    pressure, gap = moved(centre)
    inverse = -np.eye(2)
    for _ in range(_ROUNDS):
        if np.abs(gap).max() <= _SETTLED * case.contact.lap_radius_m:
            return pressure
        step = -inverse @ gap
        pressure, new_gap = moved(centre + step)
        change = new_gap - gap
        turned = step @ inverse
        if abs(turned @ change) > 0.0:
            inverse = inverse + np.outer(step - inverse @ change, turned) / (turned @ change)
        centre, gap = centre + step, new_gap
    raise BadInput(
        f"pivot_height_m: at {case.pivot_height_m:g} no steady tilt was found; lower the drive point"
    )


def _force(case: Case, pressure: Pressure, ratio: float) -> tuple[float, float]:
    if case.friction_law == "coulomb":
        sums: Friction = friction(case.contact, pressure, 1.0, ratio)
        return case.friction_coefficient * sums.force_x_n, case.friction_coefficient * sums.force_y_n
    table = case.table_rad_s
    return _viscous(case, pressure).force_n(case.contact.post_offset_m, table, ratio * table)
