"""What the friction's heat does to the glass: warming, bow, and how long it takes to settle. SI.

Upper bounds: all heat goes into the mirror and nothing evaporates. In an ordinary room evaporation takes
about as much as friction brings, and in dry air the glass may cool instead (computed, not measured).
Heat conduction as in Carslaw and Jaeger, Conduction of Heat in Solids (from memory).
"""

from __future__ import annotations

import math

from benchctl.physics.checks import finite, not_negative, positive
from benchctl.physics.drying import LATENT_HEAT_J_KG

ROOM_EXCHANGE_W_M2_K = 10.0
"""Heat a face gives to still room air, radiation included (customary round figure, from memory)."""


def body_rise_k(power_w: float, seconds: float, mass_kg: float, heat_capacity_j_kg_k: float) -> float:
    """How much a whole mirror warms, P t/(m c), kelvin."""
    energy = not_negative("power_w", power_w) * not_negative("seconds", seconds)
    return energy / (positive("mass_kg", mass_kg) * positive("heat_capacity_j_kg_k", heat_capacity_j_kg_k))


def face_rise_k(
    flux_w_m2: float,
    seconds: float,
    conductivity_w_m_k: float,
    density_kg_m3: float,
    heat_capacity_j_kg_k: float,
) -> float:
    """How much the face of a thick body warms under a steady flux: 2 q sqrt(t/pi)/sqrt(k rho c), kelvin.

    The half-infinite body: good while the heat has not reached the back, t well below thickness^2/D.
    """
    product = (
        positive("conductivity_w_m_k", conductivity_w_m_k)
        * positive("density_kg_m3", density_kg_m3)
        * positive("heat_capacity_j_kg_k", heat_capacity_j_kg_k)
    )
    return (
        2
        * not_negative("flux_w_m2", flux_w_m2)
        * math.sqrt(not_negative("seconds", seconds) / math.pi / product)
    )


def bow_m(expansion_per_k: float, difference_k: float, radius_m: float, thickness_m: float) -> float:
    """How far the centre of a free plate rises when its face is warmer than its back by `difference_k`.

    alpha dT R^2/(2 t), metres: the sagitta of the curvature alpha dT/t (thin plate, straight temperature
    profile; textbook, from memory). Negative where the face is colder.
    """
    curvature = finite("expansion_per_k", expansion_per_k) * finite("difference_k", difference_k)
    return curvature * positive("radius_m", radius_m) ** 2 / (2 * positive("thickness_m", thickness_m))


def face_to_back_time_s(thickness_m: float, diffusivity_m2_s: float, back_insulated: bool = True) -> float:
    """Time constant with which a difference between face and back dies out, seconds.

    4 t^2/(pi^2 D) with the back insulated, a quarter of it with both faces held at the room.
    """
    whole = (
        4
        * positive("thickness_m", thickness_m) ** 2
        / (math.pi**2 * positive("diffusivity_m2_s", diffusivity_m2_s))
    )
    return whole if back_insulated else whole / 4


def room_time_s(
    thickness_m: float,
    density_kg_m3: float,
    heat_capacity_j_kg_k: float,
    exchange_w_m2_k: float = ROOM_EXCHANGE_W_M2_K,
) -> float:
    """Time constant with which a whole mirror, both faces free, follows the room: rho c t/(2 h), seconds."""
    stored = positive("density_kg_m3", density_kg_m3) * positive("heat_capacity_j_kg_k", heat_capacity_j_kg_k)
    return stored * positive("thickness_m", thickness_m) / (2 * positive("exchange_w_m2_k", exchange_w_m2_k))


def evaporation_cooling_w_m2(rate_kg_m2_s: float) -> float:
    """Heat that evaporating water takes from a face, W/m2."""
    return not_negative("rate_kg_m2_s", rate_kg_m2_s) * LATENT_HEAT_J_KG
