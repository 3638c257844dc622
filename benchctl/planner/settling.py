"""How far the facets flow during a cold press: a wide range, since pitch is badly known."""

from __future__ import annotations

import math

from benchctl.models.job import Job
from benchctl.physics.squeeze import pitch_viscosity_pa_s, settled_m

EITHER_WAY = 5.0
"""A pitch whose grade and age are not measured is taken as known within this factor (our judgement)."""


def settling_range_m(
    job: Job, load_n: float, duration_s: float, temperature_c: float
) -> tuple[float, float] | None:
    """Least and most that a facet settles under `load_n` (lap and weights) in `duration_s`, in metres.

    None where the lap has no facets that could flow sideways (no channels between them).
    """
    lap = job.lap
    if lap.channel_m <= 0.0:
        return None
    pressure = load_n / (math.pi * lap.radius_m**2 * lap.land_fraction)
    middle = pitch_viscosity_pa_s(temperature_c)
    least, most = (
        settled_m(lap.pitch_thickness_m, lap.facet_m / 2, pressure, viscosity, duration_s)
        for viscosity in (middle * EITHER_WAY, middle / EITHER_WAY)
    )
    return least, most
