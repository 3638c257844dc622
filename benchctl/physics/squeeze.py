"""How far pitch flows under a cold press: squeeze flow of a film between two discs.

A film of a Newtonian liquid, h thick, between discs of radius s under the mean pressure p thins as
    dh/dt = -2 p h^3 / (3 eta s^2)      (J. Stefan, Sitzungsber. Akad. Wiss. Wien 69 (1874); from memory)
so 1/h^2 grows by 4 p / (3 eta s^2) a second. A facet of pitch on its base is taken for such a film, its half
width for s. Pitch is not quite Newtonian and its viscosity is known badly: ask for a range, not a number.
"""

from __future__ import annotations

import math

from benchctl.physics.checks import finite, not_negative, positive

REFERENCE_VISCOSITY_PA_S = 1e8
REFERENCE_TEMPERATURE_C = 20.0
DECADES_PER_KELVIN = 0.15
"""Medium pitch at 20 degrees, and how fast it softens: 0.1 to 0.2 decades a kelvin (all from memory)."""


def pitch_viscosity_pa_s(temperature_c: float) -> float:
    """Viscosity of medium pitch at a temperature in degrees Celsius, in Pa s. Badly known: see the module."""
    warmer = finite("temperature_c", temperature_c) - REFERENCE_TEMPERATURE_C
    return float(REFERENCE_VISCOSITY_PA_S * 10.0 ** (-DECADES_PER_KELVIN * warmer))


def settled_m(
    thickness_m: float, half_width_m: float, pressure_pa: float, viscosity_pa_s: float, duration_s: float
) -> float:
    """By how much the film thins in `duration_s`, in metres; never more than it was thick."""
    thickness, half = positive("thickness_m", thickness_m), positive("half_width_m", half_width_m)
    pressure, viscosity = not_negative("pressure_pa", pressure_pa), positive("viscosity_pa_s", viscosity_pa_s)
    growth = 4 * pressure * not_negative("duration_s", duration_s) / (3 * viscosity * half * half)
    # h0 - h with h = h0/sqrt(1 + x), written so that a small x loses no digits
    x = growth * thickness * thickness
    root = math.sqrt(1.0 + x)
    return thickness * x / (root * (1.0 + root))
