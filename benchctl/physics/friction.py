"""Coulomb friction of the glass on the lap: force, torques and rubbing, for any pair of speeds.

The glass moves against the lap as v = delta z^ x (P - S): a turning about the slip centre S, which lies on
the x axis at -Omega e/delta from the lap's centre (delta = Omega - omega). With the friction coefficient
taken out, everything follows from two integrals over the pressed part,
    U = integral of p rho^ dA,   N = integral of p |rho| dA,   rho = P - S,
taken along its boundary (exact by homogeneity, see `boundary`); where S is far away, directly.
Derived for this project and checked by quadrature; with full contact and even pressure it is the
sliding-and-spinning disc law of Farkas et al., Phys. Rev. Lett. 90 (2003) 248302 (abstract read, formulas
from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from benchctl.physics.boundary import Chord, gauss
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure

FAR = 2.0
"""Slip centres further than this many lap radii from the lap's centre count as far."""
_NEAREST, _FARTHEST = 1e-5, 10.0
_NEAR_NODES, _NEAR_WEIGHTS = gauss(48)
_REST_NODES, _REST_WEIGHTS = gauss(16)


class Friction(NamedTuple):
    """Per unit friction coefficient: torque on the lap about the post (N m), force on the lap (N), and
    the integral of p |v| (W)."""

    lap_nm: float
    force_x_n: float
    force_y_n: float
    rubbing_w: float


def friction(contact: Contact, pressure: Pressure, table_rad_s: float, lap_rad_s: float) -> Friction:
    """Friction of the glass on the lap for any two speeds, ground frame, same sense positive."""
    slip, drift = table_rad_s - lap_rad_s, table_rad_s * contact.post_offset_m
    if slip == 0.0 and drift == 0.0:
        return Friction(0.0, 0.0, 0.0, 0.0)
    if abs(drift) > FAR * contact.lap_radius_m * abs(slip):
        return _far(pressure, slip, drift)
    return _near(pressure, slip, -drift / slip)


def _far(pressure: Pressure, slip: float, drift: float) -> Friction:
    x, y, weight = pressure.pressed.inside
    along, across = drift + slip * x, -slip * y
    speed = np.sqrt(along * along + across * across)
    load = weight * (pressure.a + pressure.b * x + pressure.c * y)
    pull = load / speed
    torque, force_y = float(pull @ (x * along - y * across)), float(pull @ along)
    rubbing = float(load @ speed)
    if pressure.pressed.symmetric:
        return Friction(torque, 0.0, force_y, rubbing)
    return Friction(torque, float(pull @ across), force_y, rubbing)


def _near(pressure: Pressure, slip: float, centre: float) -> Friction:
    ux, uy, reach = _arc_sums(pressure, centre)
    for chord in pressure.pressed.chords:
        more_x, more_y, more = _chord_sums(pressure, chord, centre)
        ux, uy, reach = ux + more_x, uy + more_y, reach + more
    if pressure.pressed.symmetric:
        ux, uy, reach = 2 * ux, 0.0, 2 * reach
    sign = math.copysign(1.0, slip)
    return Friction(sign * (reach + centre * ux), -sign * uy, sign * ux, abs(slip) * reach)


def _arc_sums(pressure: Pressure, centre: float) -> tuple[float, float, float]:
    """Integrals of p rho^ (x and y) and p |rho| along the arcs.

    Angles run from the point of each circle nearest the slip centre; sin(angle/2) = kappa sinh(u) spreads
    the nodes where the distance changes quickly, so a slip centre on the rim itself costs nothing.
    """
    arc_centre, radius, outward, start, end, half = pressure.pressed.columns
    away = centre - arc_centre
    side = np.where(away >= 0.0, 1.0, -1.0)
    away = np.abs(away)
    first, last = np.where(side > 0, start, np.pi - end), np.where(side > 0, end, np.pi - start)
    gap = radius - away
    kappa = np.clip(np.abs(gap) / (2 * np.sqrt(radius * away) + 1e-300), _NEAREST, _FARTHEST)
    low, high = (np.arcsinh(np.sin(np.minimum(t, np.pi / 2) / 2) / kappa) for t in (first, last))
    u = low + (high - low) * _NEAR_NODES
    grown = np.exp(u)
    half_sine = kappa * (grown - 1 / grown) / 2
    half_cosine_squared = 1 - half_sine * half_sine
    half_cosine = np.sqrt(half_cosine_squared)
    width = (high - low) * _NEAR_WEIGHTS * kappa * (grown + 1 / grown) / half_cosine
    low, high = np.maximum(first, np.pi / 2), np.maximum(last, np.pi / 2)
    angle = (low + (high - low) * _REST_NODES) / 2
    half_sine = np.concatenate((half_sine, np.sin(angle)), axis=1)
    half_cosine = np.concatenate((half_cosine, np.cos(angle)), axis=1)
    width = np.concatenate((width, (high - low) * _REST_WEIGHTS), axis=1)
    squared = half_sine * half_sine
    rho_x = side * (gap - 2 * radius * squared)
    rho_y = half * 2 * radius * half_sine * half_cosine
    rho = np.sqrt(gap * gap + 4 * radius * away * squared)
    weight = outward * (gap + 2 * away * squared) * radius * width
    level = pressure.a + pressure.b * centre
    rise = pressure.b * rho_x + pressure.c * rho_y
    pull = weight * (level / 2 + rise / 3) / rho
    return (
        float((pull * rho_x).sum()),
        float((pull * rho_y).sum()),
        float((weight * rho * (level / 3 + rise / 4)).sum()),
    )


def _chord_sums(pressure: Pressure, chord: Chord, centre: float) -> tuple[float, float, float]:
    """The same along a chord on which the pressure is 0: elementary."""
    gx, gy, distance, start, end = chord
    level = pressure.a + pressure.b * centre
    gap = distance - centre * gx
    first, last = start + centre * gy, end + centre * gy
    far_first, far_last = math.hypot(gap, first), math.hypot(gap, last)
    spread = math.asinh(last / abs(gap)) - math.asinh(first / abs(gap)) if gap != 0.0 else 0.0
    across, along = gap * spread, far_last - far_first
    length = (last * far_last - first * far_first + gap * gap * spread) / 2
    pull = -gap * level / 6
    return pull * (across * gx - along * gy), pull * (across * gy + along * gx), -gap * level / 12 * length


def friction_torques(
    contact: Contact, pressure: Pressure, table_rad_s: float, lap_rad_s: float
) -> tuple[float, float]:
    """Torque driving the lap about the post, and torque holding the table back about the mirror's axis.

    N m per unit friction coefficient; any two speeds in rad/s, ground frame, same sense positive. Coulomb:
    only the ratio of the speeds matters. Table torque = lap torque + e F_y (balance about the mirror's axis).
    """
    sums = friction(contact, pressure, table_rad_s, lap_rad_s)
    return sums.lap_nm, sums.lap_nm + contact.post_offset_m * sums.force_y_n
