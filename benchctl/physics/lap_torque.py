"""The lap's friction torque under one pressure, and its slope: what the search for the steady speed asks for.

The same integrals as `friction`, for a fixed pressure and the torque alone, with
    dM/d(delta) = (Omega e)^2 * integral of p y^2/|v|^3 dA
beside it (derived for this project, checked by differences), so that Newton's method can be used.
"""

from __future__ import annotations

import math

import numpy as np

from benchctl.physics.boundary import Chord
from benchctl.physics.contact import Contact
from benchctl.physics.friction import FAR, spread
from benchctl.physics.pressure import Pressure


class LapTorque:
    """Torque per unit friction coefficient as a function of the slip's angle.

    At the angle t the table turns at cos t and slips past the lap at (e/Rl) sin t, in any unit of speed:
    Coulomb friction asks for the ratio only. Pressure symmetric about the x axis (c = 0).
    """

    def __init__(self, contact: Contact, pressure: Pressure) -> None:
        self._offset, self._size = contact.post_offset_m, contact.lap_radius_m
        self._pressure, self._twice = pressure, 2.0 if pressure.pressed.symmetric else 1.0
        x, y, weight = pressure.pressed.inside
        self._load = weight * (pressure.a + pressure.b * x + pressure.c * y)
        self._x, self._squared, self._load_y = x, x * x + y * y, self._load * y * y

    def at(self, angle: float) -> tuple[float, float]:
        """Torque (N m) and its slope over the angle (N m per rad)."""
        slip = self._offset / self._size * math.sin(angle)
        drift = self._offset * math.cos(angle)
        if abs(drift) > FAR * self._size * abs(slip):
            torque, curl = self._far(slip, drift)
        else:
            torque, curl = self._near(slip, -drift / slip)
        return torque, curl * self._offset / self._size * self._offset * drift

    def _far(self, slip: float, drift: float) -> tuple[float, float]:
        """Torque, and the integral of p y^2/|v|^3."""
        inverse = 1.0 / np.sqrt(drift * drift + slip * (2 * drift * self._x + slip * self._squared))
        pull = drift * self._x + slip * self._squared
        return float(self._load @ (pull * inverse)), float(self._load_y @ (inverse * inverse * inverse))

    def _near(self, slip: float, centre: float) -> tuple[float, float]:
        plane, level = self._pressure, self._pressure.a + self._pressure.b * centre
        arc_centre, radius, outward, start, end, half = plane.pressed.columns
        away = centre - arc_centre
        side = np.where(away >= 0.0, 1.0, -1.0)
        away = np.abs(away)
        gap = radius - away
        first, last = np.where(side > 0, start, np.pi - end), np.where(side > 0, end, np.pi - start)
        half_sine, half_cosine, width = spread(first, last, gap, radius, away)
        squared = half_sine * half_sine
        rho_x = side * (gap - 2 * radius * squared)
        rho_squared = gap * gap + 4 * radius * away * squared
        weight = (outward * radius) * (gap + 2 * away * squared) * width / np.sqrt(rho_squared)
        rise = plane.b * rho_x
        sine = half_sine * half_cosine
        if plane.c != 0.0:
            rise = rise + plane.c * (2 * radius * half) * sine
        turning = rho_squared * (level / 3 + rise / 4) + centre * rho_x * (level / 2 + rise / 3)
        torque = float(np.vdot(weight, turning))
        across = (4 * radius * radius) * sine * sine / rho_squared
        curl = float(np.vdot(weight, across * (level + rise / 2)))
        for chord in plane.pressed.chords:
            more, more_curl = _chord(chord, centre, level)
            torque, curl = torque + more, curl + more_curl
        sign = math.copysign(self._twice, slip)
        return sign * torque, self._twice * curl / abs(slip) ** 3


def _chord(chord: Chord, centre: float, level: float) -> tuple[float, float]:
    """What a cut on which the pressure is 0 adds: to the torque, and to the integral of p rho_y^2/rho^3."""
    gx, gy, distance, start, end = chord
    gap = distance - centre * gx
    if gap == 0.0:
        return 0.0, 0.0
    first, last = start + centre * gy, end + centre * gy
    rho_first, rho_last = math.hypot(gap, first), math.hypot(gap, last)
    turn = math.asinh(last / abs(gap)) - math.asinh(first / abs(gap))
    straight = rho_last - rho_first
    length = (last * rho_last - first * rho_first + gap * gap * turn) / 2
    torque = -gap * level * (length / 12 + centre * (gap * gx * turn - gy * straight) / 6)
    cosines = last / rho_last - first / rho_first
    curl = gy * gy * cosines - 2 * gap * gx * gy * (1 / rho_last - 1 / rho_first) + gx * gx * (turn - cosines)
    return torque, -gap * level / 2 * curl
