"""Incomplete elliptic integrals of the first and second kind, whole arrays at a time.

Carlson's duplication: DLMF 19.25.5, 19.25.9 (in terms of R_F, R_D), 19.36.1-2 (series); the numbers of the
equations from memory, the values checked against a reference library. Parameter m = k^2 throughout.
"""

from __future__ import annotations

import numpy as np

from benchctl.physics.boundary import Array

_ROUNDS = 10
_FLOOR = 1e-34


def elliptic_fe(sine: Array, cosine_squared: Array, delta_squared: Array, m: Array) -> tuple[Array, Array]:
    """F and E of the amplitude with this sine, 0..pi/2; `delta_squared` is 1 - m sin^2 (arrays of one shape).

    Where amplitude and parameter both reach their ends (F infinite), F stays a large finite number.
    """
    rf, rd = _rf_rd(cosine_squared, np.maximum(delta_squared, _FLOOR))
    first = sine * rf
    return first, first - m * sine**3 * rd / 3


def _rf_rd(x: Array, y: Array) -> tuple[Array, Array]:
    """R_F(x, y, 1) and R_D(x, y, 1)."""
    z = np.ones_like(x)
    total, share = np.zeros_like(x), 1.0
    for _ in range(_ROUNDS):
        rx, ry, rz = np.sqrt(x), np.sqrt(y), np.sqrt(z)
        lam = rx * (ry + rz) + ry * rz
        total += share / (rz * (z + lam))
        share /= 4
        x, y, z = (x + lam) / 4, (y + lam) / 4, (z + lam) / 4
    return _rf_series(x, y, z), share * _rd_series(x, y, z) + 3 * total


def _rf_series(x: Array, y: Array, z: Array) -> Array:
    mean = (x + y + z) / 3
    dx, dy = 1 - x / mean, 1 - y / mean
    dz = -dx - dy
    e2, e3 = dx * dy - dz * dz, dx * dy * dz
    value: Array = (1 - e2 / 10 + e3 / 14 + e2 * e2 / 24 - 3 * e2 * e3 / 44) / np.sqrt(mean)
    return value


def _rd_series(x: Array, y: Array, z: Array) -> Array:
    mean = (x + y + 3 * z) / 5
    dx, dy = 1 - x / mean, 1 - y / mean
    dz = -(dx + dy) / 3
    xy, zz = dx * dy, dz * dz
    e2, e3 = xy - 6 * zz, (3 * xy - 8 * zz) * dz
    e4, e5 = 3 * (xy - zz) * zz, xy * zz * dz
    series = 1 - 3 * e2 / 14 + e3 / 6 + 9 * e2 * e2 / 88 - 3 * e4 / 22 - 9 * e2 * e3 / 52 + 3 * e5 / 26
    value: Array = series / (mean * np.sqrt(mean))
    return value
