"""A lap on a mirror, worked out on a grid of points: how fast it spins and what the table must give.

Stand-alone: imports nothing of the project, so that it can judge it. Coulomb friction; either even pressure
(soft lap) or pressure linear in x, never below zero, balanced about the lap's centre (stiff lap).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
RATIOS: Array = np.linspace(0.0, 1.0, 41)


@dataclass(frozen=True)
class Plant:
    """Torques per unit of (friction coefficient x load), metres, for each spin ratio in RATIOS."""

    mirror_radius_m: float
    lap_radius_m: float
    post_offset_m: float
    stiff: bool
    lap_torque: Array
    table_torque: Array

    def ratio_under(self, drag_m: float) -> float:
        """Steady spin ratio under a drag torque of `drag_m` (torque over friction coefficient x load)."""
        surplus = self.lap_torque - drag_m
        if surplus[0] <= 0.0:
            return 0.0
        falling = np.nonzero(surplus <= 0.0)[0]
        if falling.size == 0:
            return 1.0
        i = int(falling[0])
        low, high = surplus[i - 1], surplus[i]
        return float(RATIOS[i - 1] + (RATIOS[i] - RATIOS[i - 1]) * low / (low - high))

    def table_at(self, ratio: float) -> float:
        """Table torque over (friction coefficient x load) at a spin ratio."""
        return float(np.interp(ratio, RATIOS, self.table_torque))

    def jump(self, ratio: float) -> float:
        """Rise of table torque from `ratio` to a stopped lap, as a share."""
        return self.table_at(0.0) / self.table_at(ratio) - 1.0


def make_plant(mirror_radius_m: float, lap_radius_m: float, post_offset_m: float, stiff: bool) -> Plant:
    """Integrate friction over the contact for every spin ratio."""
    rho = (np.arange(60) + 0.5) / 60.0 * lap_radius_m
    phi = (np.arange(96) + 0.5) / 96.0 * 2.0 * np.pi
    x, y = (rho[:, None] * np.cos(phi)).ravel(), (rho[:, None] * np.sin(phi)).ravel()
    area = np.repeat(rho, phi.size)
    on = (x + post_offset_m) ** 2 + y**2 <= mirror_radius_m**2
    x, y, area = x[on], y[on], area[on]
    pressure = _stiff_pressure(x, area) if stiff else np.ones_like(x)
    weight = pressure * area
    weight = weight / weight.sum()
    lap, table = [], []
    for ratio in RATIOS:
        slip = 1.0 - ratio
        vx, vy = -slip * y, post_offset_m + slip * x
        speed = np.maximum(np.hypot(vx, vy), 1e-9)
        lap.append(float(np.sum(weight * (x * vy - y * vx) / speed)))
        table.append(lap[-1] + post_offset_m * float(np.sum(weight * vy / speed)))
    return Plant(mirror_radius_m, lap_radius_m, post_offset_m, stiff, np.array(lap), np.array(table))


def _stiff_pressure(x: Array, area: Array) -> Array:
    """p = max(0, 1 + b x) with its centre at x = 0, by bisection on b."""
    low, high = 0.0, 1e4
    for _ in range(80):
        b = 0.5 * (low + high)
        pressure = np.maximum(0.0, 1.0 + b * x)
        if np.sum(pressure * area * x) < 0.0:
            low = b
        else:
            high = b
    return np.asarray(np.maximum(0.0, 1.0 + 0.5 * (low + high) * x), dtype=np.float64)
