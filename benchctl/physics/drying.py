"""How fast water leaves the glass, and how long a film lasts. SI; humidity as a fraction, air in degrees C.

The water is taken to be as warm as the air, which is the fast and therefore safe side: half way to the wet
bulb it would leave at about 0.6 of this rate (computed for ordinary rooms).
"""

from __future__ import annotations

import math

from benchctl.errors import BadInput
from benchctl.physics.checks import finite, not_negative, positive

ATMOSPHERE_PA = 101325.0
"""Standard atmosphere (ISO 2533, exact by convention)."""
LATENT_HEAT_J_KG = 2.454e6
"""Heat that evaporates a kilogram of water at 20 degrees C (handbook value, from memory)."""
WATER_KG_M3 = 1000.0
WATER_TO_AIR = 0.622
"""Molar mass of water over that of dry air (18.015/28.96, from memory)."""


def saturation_pressure_pa(temperature_c: float) -> float:
    """Pressure of saturated vapour over water, Pa, for -40 to 50 degrees C.

    Magnus form 610.94 exp(17.625 T/(T + 243.04)) with the coefficients of Alduchov and Eskridge (J. Appl.
    Meteorology 35, 1996; from memory; 0.4 % there).
    """
    air = finite("temperature_c", temperature_c)
    if not -40.0 <= air <= 50.0:
        raise BadInput(f"temperature_c: {air:g} is outside -40 to 50 degrees C, where the formula holds")
    return 610.94 * math.exp(17.625 * air / (air + 243.04))


def humidity_ratio(vapour_pa: float) -> float:
    """Kilograms of water vapour with each kilogram of dry air, 0.622 pv/(P - pv), at standard pressure."""
    vapour = not_negative("vapour_pa", vapour_pa)
    if vapour >= ATMOSPHERE_PA:
        raise BadInput(f"vapour_pa: {vapour:g} must be less than the air's pressure, {ATMOSPHERE_PA:g}")
    return WATER_TO_AIR * vapour / (ATMOSPHERE_PA - vapour)


def evaporation_kg_m2_s(temperature_c: float, humidity: float, air_speed_m_s: float) -> float:
    """Water leaving a wet face, kg/(m2 s): (25 + 19 v)(x_s - x)/3600.

    A screening formula in common use (read in several calculators of open water); x is the humidity ratio
    of the room, x_s that of saturated air, v the speed of the air over the face in m/s. Good to a factor of
    about 1.5: the handbook form below gives 0.83 to 0.86 of it at bench speeds.
    """
    full, there = _pressures(temperature_c, humidity)
    speed = not_negative("air_speed_m_s", air_speed_m_s)
    return (25.0 + 19.0 * speed) * (humidity_ratio(full) - humidity_ratio(there)) / 3600.0


def evaporation_handbook_kg_m2_s(temperature_c: float, humidity: float, air_speed_m_s: float) -> float:
    """The same by the handbook form, (p_w - p_a)(0.089 + 0.0782 v)/Y with kPa and Y = 2454 kJ/kg.

    Carrier 1918, as in the ASHRAE handbooks (read in inch units, (95 + 0.425 v)(p_w - p_a)/Y; the metric
    form from memory). Measured quiet pools gave 74 % of it (Smith et al. 1998, read).
    """
    full, there = _pressures(temperature_c, humidity)
    speed = not_negative("air_speed_m_s", air_speed_m_s)
    return (full - there) / 1000.0 * (0.089 + 0.0782 * speed) / (LATENT_HEAT_J_KG / 1000.0)


def time_to_dry_s(film_m: float, rate_kg_m2_s: float) -> float | None:
    """How long a film of water lasts, seconds: its mass over the rate. None where nothing evaporates.

    The film after a spray is not known (20 to 100 um, judgement) and slurry in the channels is a reserve:
    learn the film from once letting a bare wet face go dull, by `film_from_dull_m`.
    """
    film, rate = positive("film_m", film_m), not_negative("rate_kg_m2_s", rate_kg_m2_s)
    return film * WATER_KG_M3 / rate if rate > 0.0 else None


def film_from_dull_m(seconds_to_dull: float, rate_kg_m2_s: float) -> float:
    """Film thickness (m) that goes dull after so many seconds at a rate; the inverse of `time_to_dry_s`."""
    return positive("seconds_to_dull", seconds_to_dull) * positive("rate_kg_m2_s", rate_kg_m2_s) / WATER_KG_M3


def _pressures(temperature_c: float, humidity: float) -> tuple[float, float]:
    share = not_negative("humidity", humidity)
    if share > 1.0:
        raise BadInput(f"humidity: {share:g} must be a fraction, 0 to 1 (48 % is 0.48)")
    full = saturation_pressure_pa(temperature_c)
    return full, share * full
