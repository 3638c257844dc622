"""Friction that grows with speed: a uniform film, tau = f v, and wetted pitch, tau = f p v.

With m0, mx, my, m2 the integrals of w, w x, w y, w (x^2 + y^2) over the area (w = 1 for the film, p for
wetted pitch; x, y from the lap's centre, f the film rate, delta = Omega - omega):
    lap torque M = f (Omega e mx + delta m2),   force F_x = -f delta my,   F_y = f (Omega e m0 + delta mx)
(derived for this project, checked numerically). Both are given, like Coulomb friction, for p = 1, x and y.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from benchctl.physics.boundary import Array, Boundary
from benchctl.physics.contact import Contact

Sums = Callable[[float, float], Array]
"""(table, lap) in rad/s -> lap torque, force x, force y (columns) for p = 1, x and y (rows); N m and N."""
_EVEN = np.array([[1.0, 1.0, 0.0, 1.0], [1.0, 1.0, 0.0, 1.0], [0.0, 0.0, 1.0, 0.0]])
"""What the mirrored half adds, and what it cancels, where the pressed part is symmetric about the x axis."""


def wetted_friction(contact: Contact, pressed: Boundary, film_rate: float) -> Sums:
    """Friction tau = film_rate p v (film_rate in s/m) over the pressed part."""
    x, y, weight = pressed.inside
    loads = np.stack((weight, weight * x, weight * y))
    moments: Array = loads @ np.stack((np.ones_like(x), x, y, x * x + y * y), axis=1)
    return _sums(film_rate * (moments * _EVEN if pressed.symmetric else moments), contact.post_offset_m)


def film_friction(contact: Contact, pressed: Boundary, film_rate: float, load_n: float) -> Sums:
    """A film of `film_rate` = viscosity/thickness (Pa s/m) over the whole contact, whatever the pressure.

    The shares of p = 1, x and y are taken from integral of p = load over the pressed part, so they add up.
    """
    m = contact.moments
    shares = np.array(pressed.moments[:3]) / load_n
    return _sums(film_rate * np.outer(shares, [m.area, m.sx, 0.0, m.xx + m.yy]), contact.post_offset_m)


def _sums(moments: Array, offset_m: float) -> Sums:
    m0, mx, my, m2 = moments.T

    def sums(table: float, lap: float) -> Array:
        drift, slip = table * offset_m, table - lap
        return np.stack((drift * mx + slip * m2, -slip * my, drift * m0 + slip * mx), axis=1)

    return sums
