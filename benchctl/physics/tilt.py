"""Pressure and spin together, where friction tilts the lap about its pivot.

The post pushes on the lap at the pivot's height h above the face, so friction F moves the centre of pressure:
    x_p = -h F_x/W,   y_p = -h F_y/W
(balance of moments about the pivot; derived for this project, checked). At a given speed ratio F is linear in
p = a + b x + c y, so on a given pressed part three linear equations hold all of it,
    int p = W,   int p x + h F_x = 0,   int p y + h F_y = 0,
and the speed is the root of one equation. Without tension the pressed part is then found anew until it
stays: Newton's method, since the pressure vanishes where the part ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Array, Boundary
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure, PressureLaw, lowest_pressure, refuse_toppling, solve_pressure
from benchctl.physics.viscous import Sums

_ROUNDS = 80
_SETTLED, _SETTLED_AT_LAST, _PATIENCE = 1e-13, 1e-9, 20


Ratio = Callable[[Callable[[float, float], float], bool], float]
"""(torque of (table, lap), whether some of the face pulls) -> steady speed ratio."""


@dataclass(frozen=True)
class Tilting:
    """A loaded lap on a pivot: load (N), pivot height (m), pressure law, and its friction on a given part."""

    contact: Contact
    load_n: float
    pivot_height_m: float
    law: PressureLaw
    friction_on: Callable[[Boundary], Sums]

    @property
    def tilts(self) -> bool:
        """False where friction cannot move the pressure: even law, pivot in the face, or a concentric lap."""
        return self.pivot_height_m > 0.0 and self.law != "uniform" and not self.contact.concentric

    def settle(self, ratio: Ratio) -> tuple[Pressure, float]:
        """Pressure and speed ratio that hold together. BadInput where the lap tips over."""
        if not self.tilts:
            return self._level(ratio)
        if self.law == "no_tension":
            refuse_toppling(self.contact, (0.0, 0.0))
        try:
            return self._tilted(ratio)
        except (BadInput, np.linalg.LinAlgError) as error:
            if isinstance(error, BadInput) and not str(error).startswith("post_offset_m"):
                raise
            raise BadInput(
                f"pivot_height_m: {self.pivot_height_m:g} lets friction tip the lap; lower the drive point"
            ) from error

    @cached_property
    def level(self) -> Pressure:
        """The pressure while nothing tilts the lap."""
        return solve_pressure(self.contact, self.load_n, self.law)

    def _level(self, ratio: Ratio) -> tuple[Pressure, float]:
        pressure = self.level
        plane, sums = np.array(pressure.coefficients), self.friction_on(pressure.pressed)
        pulls = pressure.lowest_pa < 0.0 and not pressure.lifted
        return pressure, ratio(lambda table, lap: float(plane @ sums(table, lap)[:, 0]), pulls)

    def _tilted(self, ratio: Ratio) -> tuple[Pressure, float]:
        part = self.contact.boundary
        plane, speed = self._on_part(part, ratio, False)
        lowest = lowest_pressure(self.contact, *plane)
        if lowest >= 0.0 or self.law == "linear":
            if lowest < 0.0:
                plane, speed = self._on_part(part, ratio, True)
                lowest = lowest_pressure(self.contact, *plane)
            a, b, c = (float(value) for value in plane)
            return Pressure(a, b, c, self.load_n, part, lowest, False), speed
        return self._lifted(ratio, plane)

    def _lifted(self, ratio: Ratio, plane: Array) -> tuple[Pressure, float]:
        size = self.contact.lap_radius_m
        unit = np.array([1.0, size, size])
        share, last = 1.0, np.inf
        for round_ in range(_ROUNDS):
            part = self.contact.pressed(*(float(value) for value in plane))
            found, speed = self._on_part(part, ratio, False)
            change = float(np.abs((found - plane) * unit).max() / np.abs(found * unit).max())
            if change <= (_SETTLED if round_ < _PATIENCE else _SETTLED_AT_LAST):
                a, b, c = (float(value) for value in found)
                lowest = lowest_pressure(self.contact, a, b, c)
                return Pressure(a, b, c, self.load_n, part, lowest, lowest < 0.0), speed
            share = max(share / 2, 0.05) if change > last else min(1.0, 1.5 * share)
            plane, last = plane + share * (found - plane), change
        raise BadInput(f"pivot_height_m: {self.pivot_height_m:g} all but tips the lap; lower the drive point")

    def _on_part(self, part: Boundary, ratio: Ratio, pulls: bool) -> tuple[Array, float]:
        """Coefficients and ratio with this part of the face pressed."""
        area, sx, sy, xx, xy, yy = part.moments
        balance = np.array([[area, sx, sy], [sx, xx, xy], [sy, xy, yy]])
        load, sums = np.array([self.load_n, 0.0, 0.0]), self.friction_on(part)

        def plane(table: float, lap: float) -> tuple[Array, Array]:
            friction, matrix = sums(table, lap), balance.copy()
            matrix[1:] += self.pivot_height_m * friction[:, 1:3].T
            return np.linalg.solve(matrix, load), friction[:, 0]

        def torque(table: float, lap: float) -> float:
            coefficients, turning = plane(table, lap)
            return float(coefficients @ turning)

        speed = ratio(torque, pulls)
        return plane(1.0, speed)[0], speed
