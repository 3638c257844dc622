"""Removal over the mirror: Preston's law averaged over the turn.

    dz/dt (r) = (k/2 pi) * integral over the arc under the lap of p |v| dphi
(F. W. Preston, J. Soc. Glass Technol. 11 (1927) 214, from memory). On a circle of radius r,
|v|^2 = A + B cos phi with A = delta^2 r^2 + omega^2 e^2, B = 2 delta omega r e, and p is linear in cos phi
and sin phi, so every arc is an elliptic integral (derived, checked by quadrature):
    J = int sqrt(A + B cos) = 2 sqrt(A+B) E(phi/2 | 2B/(A+B))
    G = int cos sqrt(A + B cos) = 2/3 sin sqrt(A + B cos) + A/(3B) J + (B^2-A^2)/(3B) 2F/sqrt(A+B)
    H = int sin sqrt(A + B cos) = -2/(3B) (A + B cos)^(3/2)
Where B is small beside A, Gauss-Legendre quadrature takes their place, since the closed forms cancel.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Array, gauss
from benchctl.physics.checks import finite, not_negative
from benchctl.physics.contact import Contact
from benchctl.physics.elliptic import elliptic_fe
from benchctl.physics.pressure import Pressure

_SMOOTH = 0.5
_NODES, _WEIGHTS = gauss(20)


def arc_half_angle(contact: Contact, radii: Array) -> Array:
    """Half the angle, seen from the mirror's centre, of the arc of each circle that lies under the lap (rad).

    cos phi = (r^2 + e^2 - Rl^2)/(2 r e), clipped; pi where the whole circle is covered, 0 where none is.
    """
    lap, offset = contact.lap_radius_m, contact.post_offset_m
    inner = lap - offset - radii
    nearest = radii - offset
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        half_sine_squared = (lap - nearest) * (lap + nearest) / (4 * radii * offset)
    half = 2 * np.arcsin(np.sqrt(np.clip(np.nan_to_num(half_sine_squared), 0.0, 1.0)))
    return np.where(inner >= 0.0, math.pi, np.where(np.abs(nearest) >= lap, 0.0, half))


def removal_rate(
    contact: Contact,
    pressure: Pressure,
    table_rad_s: float,
    lap_rad_s: float,
    preston_per_pa: float,
    radii_m: Array,
) -> Array:
    """Depth removed per second (m/s) at each radius from the mirror's centre, averaged over the turn."""
    radii = np.asarray(radii_m, dtype=float)
    if not (np.isfinite(radii).all() and (radii >= 0.0).all()):
        raise BadInput("radii_m: must be finite numbers of at least 0, in metres; change it and try again")
    finite("table_rad_s", table_rad_s)
    finite("lap_rad_s", lap_rad_s)
    not_negative("preston_per_pa", preston_per_pa)
    widest = arc_half_angle(contact, radii)
    if pressure.lifted and pressure.c != 0.0:
        halves = [
            _half(contact, pressure, side, table_rad_s, lap_rad_s, radii, widest) for side in (1.0, -1.0)
        ]
        return preston_per_pa / (2 * math.pi) * (halves[0] + halves[1])
    half = _half(contact, pressure, 0.0, table_rad_s, lap_rad_s, radii, widest)
    return preston_per_pa / math.pi * half


def _half(
    contact: Contact,
    pressure: Pressure,
    side: float,
    table: float,
    lap: float,
    radii: Array,
    widest: Array,
) -> Array:
    """Integral of p |v| over half the arc of each circle, y = side * |y| (side 0: c drops out)."""
    level = pressure.a - pressure.b * contact.post_offset_m
    along, across = radii * pressure.b, radii * (side * pressure.c)
    total = np.zeros_like(radii)
    for first, last in _loaded(level, along, across, widest) if pressure.lifted else [(None, widest)]:
        j, g, h = speed_integrals((table - lap) * radii, lap * contact.post_offset_m, first, last)
        total += level * j + along * g + across * h
    return total


def _loaded(level: float, along: Array, across: Array, widest: Array) -> list[tuple[Array | None, Array]]:
    """Stretches of 0..widest where level + along cos + across sin > 0; empty ones have equal ends."""
    size = np.hypot(along, across)
    middle = np.arctan2(across, along)
    width = np.arccos(np.clip(-level / np.maximum(size, 1e-12 * abs(level) + 1e-300), -1.0, 1.0))
    roots = np.sort(np.clip(_into_turn(np.stack((middle - width, middle + width))), 0.0, widest), axis=0)
    cuts = [np.zeros_like(widest), roots[0], roots[1], widest]
    stretches: list[tuple[Array | None, Array]] = []
    for first, last in pairwise(cuts):
        inside = level + size * np.cos((first + last) / 2 - middle) > 0.0
        if (inside & (last > first)).any():
            start = np.where(inside, first, 0.0)
            stretches.append((start if start.any() else None, np.where(inside, last, 0.0)))
    return stretches


def _into_turn(angle: Array) -> Array:
    """Angles brought into 0..2 pi."""
    wrapped: Array = np.mod(angle, 2 * math.pi)
    return wrapped


def speed_integrals(
    turning: Array, drift: float, first: Array | None, last: Array
) -> tuple[Array, Array, Array]:
    """J, G, H of the module's header from `first` (None: 0) to `last`, angles within 0..pi.

    `turning` is delta r (m/s) for each circle, `drift` omega e (m/s): A = turning^2 + drift^2,
    B = 2 turning drift. Arrays of one shape; results in m/s times rad.
    """
    first = np.zeros_like(last) if first is None else first
    a, b = turning * turning + drift * drift, 2 * turning * drift
    smooth = np.abs(b) <= _SMOOTH * a
    if smooth.all():
        return _by_gauss(a, b, first, last)
    results = np.empty((3, *last.shape))
    results[:, smooth] = _by_gauss(a[smooth], b[smooth], first[smooth], last[smooth])
    rough = ~smooth
    results[:, rough] = _by_elliptic(turning[rough], drift, first[rough], last[rough])
    return results[0], results[1], results[2]


def _by_gauss(a: Array, b: Array, first: Array, last: Array) -> tuple[Array, Array, Array]:
    width = last - first
    angle = first[:, None] + width[:, None] * _NODES
    cosine = np.cos(angle)
    speed = np.sqrt(a[:, None] + b[:, None] * cosine) * _WEIGHTS
    return (
        width * speed.sum(axis=1),
        width * (speed * cosine).sum(axis=1),
        width * (speed * np.sin(angle)).sum(axis=1),
    )


def _by_elliptic(turning: Array, drift: float, first: Array, last: Array) -> tuple[Array, Array, Array]:
    """Angles are counted from where the speed is highest: from pi where delta omega < 0."""
    flipped = turning * drift < 0.0
    start, end = np.where(flipped, math.pi - last, first), np.where(flipped, math.pi - first, last)
    turning, drift = np.abs(turning), abs(drift)
    j, g, h = _from_zero(turning, drift, end)
    if start.any():
        j0, g0, h0 = _from_zero(turning, drift, start)
        j, g, h = j - j0, g - g0, h - h0
    else:
        h = h - _from_zero_h(turning, drift)
    return j, np.where(flipped, -g, g), h


def _from_zero(turning: Array, drift: float, angle: Array) -> tuple[Array, Array, Array]:
    total, gap, b = turning + drift, turning - drift, 2 * turning * drift
    a = turning * turning + drift * drift
    sine, cosine_squared = np.sin(angle / 2), np.cos(angle / 2) ** 2
    speed_squared = gap * gap + 2 * b * cosine_squared
    first, second = elliptic_fe(sine, cosine_squared, speed_squared / total**2, 2 * b / total**2)
    speed = np.sqrt(speed_squared)
    j = 2 * total * second
    g = (2 * np.sin(angle) * speed + (a * j - 2 * gap * gap * total * first) / b) / 3
    return j, g, -2 * speed * speed_squared / (3 * b)


def _from_zero_h(turning: Array, drift: float) -> Array:
    """H of `_from_zero` at angle 0."""
    value: Array = -2 * (turning + drift) ** 3 / (6 * turning * drift)
    return value
