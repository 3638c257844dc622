"""Friction that grows with speed: a uniform film, tau = f v, and wetted pitch, tau = f p v.

With m0 = integral of w dA, mx = integral of w x dA, m2 = integral of w (x^2 + y^2) dA (w = 1 for the film,
p for wetted pitch; x, y from the lap's centre, f the film rate):
    lap torque M = f (Omega e mx + delta m2),  force F_y = f (Omega e m0 + delta mx),  F_x = -f delta my
    heat = f (Omega^2 e^2 m0 + 2 Omega e delta mx + delta^2 m2)
Setting M equal to the drag gives the speed in closed form (derived for this project, checked numerically).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure


@dataclass(frozen=True)
class ViscousFriction:
    """Weighted moments of the rubbing face, film rate already in them."""

    m0: float
    mx: float
    my: float
    m2: float

    def lap_nm(self, offset_m: float, table_rad_s: float, lap_rad_s: float) -> float:
        """Torque of the glass on the lap about the post, N m."""
        return table_rad_s * offset_m * self.mx + (table_rad_s - lap_rad_s) * self.m2

    def force_n(self, offset_m: float, table_rad_s: float, lap_rad_s: float) -> tuple[float, float]:
        """Force of the glass on the lap along x and y, N."""
        slip = table_rad_s - lap_rad_s
        return -slip * self.my, table_rad_s * offset_m * self.m0 + slip * self.mx

    def power_w(self, offset_m: float, table_rad_s: float, lap_rad_s: float) -> float:
        """Heat of the rubbing, W."""
        slip, drift = table_rad_s - lap_rad_s, table_rad_s * offset_m
        return drift * drift * self.m0 + 2 * drift * slip * self.mx + slip * slip * self.m2

    def spin_ratio(self, offset_m: float, drag_nm: float, viscous_nm: float) -> tuple[float, float]:
        """Steady lap speed over table speed, and the torque with the lap held, both at 1 rad/s of the table.

        `drag_nm` is the constant drag divided by the table's speed, `viscous_nm` the viscous drag (N m s).
        """
        held = offset_m * self.mx + self.m2
        if abs(held) <= drag_nm:
            return 0.0, held
        return (held - math.copysign(drag_nm, held)) / (self.m2 + viscous_nm), held


def film(contact: Contact, film_rate: float) -> ViscousFriction:
    """A uniform film of `film_rate` = viscosity/thickness, Pa s/m, over the whole contact."""
    m = contact.moments
    return ViscousFriction(film_rate * m.area, film_rate * m.sx, film_rate * m.sy, film_rate * (m.xx + m.yy))


def wetted(pressure: Pressure, film_rate: float) -> ViscousFriction:
    """Friction tau = film_rate p v (film_rate in s/m) over the part that carries load."""
    x, y, weight = pressure.pressed.inside
    load = film_rate * weight * (pressure.a + pressure.b * x + pressure.c * y)
    across = 0.0 if pressure.pressed.symmetric else float(load @ y)
    return ViscousFriction(float(load.sum()), float(load @ x), across, float(load @ (x * x + y * y)))
