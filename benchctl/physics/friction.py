"""Coulomb friction of the glass on the lap: force, torques and rubbing, for any pair of speeds.

The glass moves against the lap as v = delta z^ x (P - S): a turning about the slip centre S, which lies on
the x axis at -Omega e/delta from the lap's centre (delta = Omega - omega). With the friction coefficient
taken out, everything follows from two integrals over the pressed part,
    U = integral of p rho^ dA,   N = integral of p |rho| dA,   rho = P - S,
taken along its boundary (exact by homogeneity, see `boundary`); where S is far away, directly. Both are
linear in p = a + b x + c y, so they are kept per unit of a, b and c.
Derived for this project and checked by quadrature; with full contact and even pressure it is the
sliding-and-spinning disc law of Farkas et al., Phys. Rev. Lett. 90 (2003) 248302 (abstract read, formulas
from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from benchctl.physics.boundary import Array, Boundary, Chord, gauss
from benchctl.physics.checks import finite
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure

FAR = 2.0
"""Slip centres further than this many lap radii from the lap's centre count as far."""
_NEAREST, _FARTHEST = 1e-5, 10.0
_NEAR_NODES, _NEAR_WEIGHTS = gauss(48)
_REST_NODES, _REST_WEIGHTS = gauss(16)
_COUNT = _NEAR_NODES.size + _REST_NODES.size
_EVEN = np.array([[1.0, 0.0, 1.0, 1.0], [1.0, 0.0, 1.0, 1.0], [0.0, 1.0, 0.0, 0.0]])
"""What the mirrored half adds, and what it cancels, where the pressed part is symmetric about the x axis."""


class Friction(NamedTuple):
    """Per unit friction coefficient: torque on the lap about the post (N m), force on the lap (N), and
    the integral of p |v| (W)."""

    lap_nm: float
    force_x_n: float
    force_y_n: float
    rubbing_w: float


def friction(contact: Contact, pressure: Pressure, table_rad_s: float, lap_rad_s: float) -> Friction:
    """Friction of the glass on the lap for any two speeds, ground frame, same sense positive."""
    sums = unit_friction(contact, pressure.pressed, table_rad_s, lap_rad_s)
    torque, force_x, force_y, rubbing = np.array(pressure.coefficients) @ sums
    return Friction(float(torque), float(force_x), float(force_y), float(rubbing))


def unit_friction(contact: Contact, pressed: Boundary, table_rad_s: float, lap_rad_s: float) -> Array:
    """Friction for p = 1, x and y (rows): lap torque, force x, force y, integral of p |v| (columns)."""
    slip, drift = table_rad_s - lap_rad_s, table_rad_s * contact.post_offset_m
    if slip == 0.0 and drift == 0.0:
        return np.zeros((3, 4))
    if abs(drift) > FAR * contact.lap_radius_m * abs(slip):
        return _far(pressed, slip, drift)
    return _near(pressed, slip, -drift / slip)


def _far(pressed: Boundary, slip: float, drift: float) -> Array:
    x, y, weight = pressed.inside
    slip, away, scale = slip / abs(drift), math.copysign(1.0, drift), abs(drift)
    along, across = away + slip * x, -slip * y
    speed = np.sqrt(along * along + across * across)
    pull = weight / speed
    loads = np.stack((np.ones_like(x), x, y))
    sums: Array = loads @ np.stack(
        (pull * (x * along - y * across), pull * across, pull * along, scale * weight * speed), axis=1
    )
    return sums * _EVEN if pressed.symmetric else sums


def _near(pressed: Boundary, slip: float, centre: float) -> Array:
    pulls = _arc_sums(pressed.columns, centre)
    for chord in pressed.chords:
        pulls = pulls + _chord_sums(chord, centre)
    ux, uy, reach = pulls
    sign = math.copysign(1.0, slip)
    sums = np.stack((sign * (reach + centre * ux), -sign * uy, sign * ux, abs(slip) * reach), axis=1)
    sums[1] += centre * sums[0]
    return 2 * sums * _EVEN if pressed.symmetric else sums


def _arc_sums(columns: Array, centre: float) -> Array:
    """Along the arcs: U_x, U_y, N (rows) for p = 1, rho_x, rho_y (columns).

    Angles run from the point of each circle nearest the slip centre; sin(angle/2) = kappa sinh(u) spreads
    the nodes where the distance changes quickly, so a slip centre on the rim itself costs nothing.
    """
    arc_centre, radius, outward, start, end, half = columns
    away = centre - arc_centre
    side = np.where(away >= 0.0, 1.0, -1.0)
    away = np.abs(away)
    gap = radius - away
    first, last = np.where(side > 0, start, np.pi - end), np.where(side > 0, end, np.pi - start)
    half_sine, half_cosine, width = spread(first, last, gap, radius, away)
    squared = half_sine * half_sine
    rho_x = (side * (gap - 2 * radius * squared)).ravel()
    rho_y = (half * 2 * radius * half_sine * half_cosine).ravel()
    rho = np.sqrt(gap * gap + 4 * radius * away * squared).ravel()
    weight = (outward * (gap + 2 * away * squared) * radius * width).ravel()
    pull = weight / rho
    pull_x, pull_y, reach = pull * rho_x, pull * rho_y, weight * rho
    both = float(pull_x @ rho_y) / 3
    return np.array(
        [
            [float(pull_x.sum()) / 2, float(pull_x @ rho_x) / 3, both],
            [float(pull_y.sum()) / 2, both, float(pull_y @ rho_y) / 3],
            [float(reach.sum()) / 3, float(reach @ rho_x) / 4, float(reach @ rho_y) / 4],
        ]
    )


def spread(first: Array, last: Array, gap: Array, radius: Array, away: Array) -> tuple[Array, Array, Array]:
    """Nodes from `first` to `last` as sin and cos of the half angle, and their widths; a row an arc."""
    kappa = np.abs(gap) / (2 * np.sqrt(radius * away) + 1e-300)
    kappa = np.minimum(np.maximum(kappa, _NEAREST), _FARTHEST)
    ends = np.concatenate((first, last), axis=1)
    u = np.arcsinh(np.sin(np.minimum(ends, np.pi / 2) / 2) / kappa)
    low, length = u[:, :1], u[:, 1:] - u[:, :1]
    grown = np.exp(low + length * _NEAR_NODES)
    shrunk = 1 / grown
    kappa = kappa / 2
    half_sine, half_cosine, width = np.empty((3, len(ends), _COUNT))
    near, rest = slice(0, _NEAR_NODES.size), slice(_NEAR_NODES.size, _COUNT)
    half_sine[:, near] = kappa * (grown - shrunk)
    half_cosine[:, near] = np.sqrt(1 - half_sine[:, near] ** 2)
    width[:, near] = (2 * length * kappa) * _NEAR_WEIGHTS * (grown + shrunk) / half_cosine[:, near]
    halves = np.maximum(ends, np.pi / 2) / 2
    low, length = halves[:, :1], halves[:, 1:] - halves[:, :1]
    angle = low + length * _REST_NODES
    half_sine[:, rest], half_cosine[:, rest] = np.sin(angle), np.cos(angle)
    width[:, rest] = (2 * length) * _REST_WEIGHTS
    return half_sine, half_cosine, width


def _chord_sums(chord: Chord, centre: float) -> Array:
    """The same along a straight cut, where they are elementary. With s the way along it, d its distance:

    int 1/rho = asinh(s/d), int s/rho = rho, int s^2/rho = (s rho - d^2 asinh)/2, int rho = (s rho +
    d^2 asinh)/2, int s rho = rho^3/3.
    """
    gx, gy, distance, start, end = chord
    gap = distance - centre * gx
    first, last = start + centre * gy, end + centre * gy
    rho_first, rho_last = math.hypot(gap, first), math.hypot(gap, last)
    spread = math.asinh(last / abs(gap)) - math.asinh(first / abs(gap)) if gap != 0.0 else 0.0
    straight, product = rho_last - rho_first, last * rho_last - first * rho_first
    square, length = (product - gap * gap * spread) / 2, (product + gap * gap * spread) / 2
    cubic = (rho_last**3 - rho_first**3) / 3
    ux, uy = gap * gx * spread - gy * straight, gap * gy * spread + gx * straight
    xx = gap * gap * gx * gx * spread - 2 * gap * gx * gy * straight + gy * gy * square
    xy = gap * gap * gx * gy * spread + gap * (gx * gx - gy * gy) * straight - gx * gy * square
    yy = gap * gap * gy * gy * spread + 2 * gap * gx * gy * straight + gx * gx * square
    nx, ny = gap * gx * length - gy * cubic, gap * gy * length + gx * cubic
    return -gap * np.array([[ux / 2, xx / 3, xy / 3], [uy / 2, xy / 3, yy / 3], [length / 3, nx / 4, ny / 4]])


def friction_torques(
    contact: Contact, pressure: Pressure, table_rad_s: float, lap_rad_s: float
) -> tuple[float, float]:
    """Torque driving the lap about the post, and torque holding the table back about the mirror's axis.

    N m per unit friction coefficient; any two speeds in rad/s, ground frame, same sense positive. Coulomb:
    only the ratio of the speeds matters. Table torque = lap torque + e F_y (balance about the mirror's axis).
    """
    table, lap = finite("table_rad_s", table_rad_s), finite("lap_rad_s", lap_rad_s)
    sums = friction(contact, pressure, table, lap)
    return sums.lap_nm, sums.lap_nm + contact.post_offset_m * sums.force_y_n
