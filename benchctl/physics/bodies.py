"""Mirror, lap and weights as bodies: sagitta, drift of the curve, masses, moments of inertia. SI.

Plain solid geometry, written out where it is less than textbook; the tests hold it to tables computed apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchctl.errors import BadInput
from benchctl.physics.checks import not_negative, positive


def sagitta_sphere_m(curve_radius_m: float, diameter_m: float) -> float:
    """Depth of a sphere's face, Rc - sqrt(Rc^2 - D^2/4), metres. BadInput where D is over 2 Rc.

    Written as h^2/(Rc + sqrt(Rc^2 - h^2)) with h = D/2, which loses no digits on a shallow face.
    """
    radius, half = positive("curve_radius_m", curve_radius_m), positive("diameter_m", diameter_m) / 2
    if half > radius:
        raise BadInput(f"diameter_m: {2 * half:g} must be at most twice curve_radius_m, {2 * radius:g}")
    return half * half / (radius + math.sqrt((radius - half) * (radius + half)))


def sagitta_parabola_m(curve_radius_m: float, diameter_m: float) -> float:
    """Depth of a paraboloid's face, D^2/(8 Rc), metres."""
    return positive("diameter_m", diameter_m) ** 2 / (8 * positive("curve_radius_m", curve_radius_m))


def curve_drift_m(curve_radius_m: float, mirror_radius_m: float, edge_less_centre_m: float) -> float:
    """How much the radius of curvature grows when the edge loses `edge_less_centre_m` more than the centre.

    2 Rc^2 d/R^2, from s = R^2/(2 Rc); metres, negative where the centre loses more. Holds for depths small
    beside the sagitta.
    """
    curve, radius = positive("curve_radius_m", curve_radius_m), positive("mirror_radius_m", mirror_radius_m)
    return 2 * (curve / radius) ** 2 * edge_less_centre_m


def mirror_mass_kg(
    density_kg_m3: float,
    mirror_radius_m: float,
    edge_thickness_m: float,
    curve_radius_m: float,
    hole_radius_m: float = 0.0,
) -> float:
    """Mass of a flat-backed mirror with a concave face, kg, from its thickness at the rim.

    rho pi [(R^2 - rh^2) t - (R^2 - rh^2)^2/(4 Rc)]: the disc less the dish of a paraboloid down to the hole
    (derived; within 0.3 % of a sphere's dish at f/2).
    """
    radius, hole = _ring(mirror_radius_m, hole_radius_m)
    thickness, curve = (
        positive("edge_thickness_m", edge_thickness_m),
        positive("curve_radius_m", curve_radius_m),
    )
    face = radius**2 - hole**2
    if face / (2 * curve) >= thickness:
        raise BadInput(
            f"edge_thickness_m: {thickness:g} is less than the dish of the face is deep, "
            f"{face / (2 * curve):g}; check thickness and focal ratio"
        )
    return positive("density_kg_m3", density_kg_m3) * math.pi * face * (thickness - face / (4 * curve))


def disc_inertia_kg_m2(mass_kg: float, radius_m: float, hole_radius_m: float = 0.0) -> float:
    """Moment of inertia of a flat ring or disc about its axis, m (R^2 + rh^2)/2, kg m2."""
    radius, hole = _ring(radius_m, hole_radius_m, "radius_m")
    return positive("mass_kg", mass_kg) * (radius**2 + hole**2) / 2


def weights_inertia_kg_m2(masses_kg: Sequence[float], radius_m: float) -> float:
    """Moment of inertia of weights that all stand `radius_m` from the axis, as points, kg m2."""
    masses = [not_negative(f"masses_kg[{i}]", mass) for i, mass in enumerate(masses_kg)]
    return math.fsum(masses) * not_negative("radius_m", radius_m) ** 2


def _ring(radius: float, hole: float, name: str = "mirror_radius_m") -> tuple[float, float]:
    outer, inner = positive(name, radius), not_negative("hole_radius_m", hole)
    if inner >= outer:
        raise BadInput(f"hole_radius_m: {inner:g} must be less than {name}, {outer:g}")
    return outer, inner
