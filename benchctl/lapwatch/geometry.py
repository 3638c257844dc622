"""How much motor load must rise when the lap stops, by geometry alone.

Coulomb friction over the contact of lap and mirror, integrated on a polar grid of the lap; for even pressure
(a soft lap) and for pressure linear over the lap, never below zero, balanced about its centre (a stiff one).
Derived for this project and checked against the closed form for full contact. Pivot height is neglected.
"""

from __future__ import annotations

import math

RINGS, SPOKES = 16, 24
GRID = tuple(i / 10.0 for i in range(11))


class LoadPrediction:
    """Table torque against spin ratio for one set-up, in units of friction coefficient x load x metre."""

    def __init__(
        self, mirror_radius_m: float, lap_radius_m: float, post_offset_m: float, hole_radius_m: float
    ) -> None:
        points = _contact(mirror_radius_m, lap_radius_m, post_offset_m, hole_radius_m)
        even = [area for _, _, area in points]
        self._soft = _torques(points, even, post_offset_m)
        self._stiff = _torques(points, _balanced(points), post_offset_m)
        self.soft_ratio = _free_ratio(points, even, post_offset_m)
        """Spin ratio of a soft lap without drag; a stiff one turns with the mirror."""

    def jump(self, ratio: float) -> float:
        """Rise of table torque, as a share, from a free lap at this spin ratio to a stopped one.

        Which pressure law holds is read from the ratio itself: at a soft lap's free ratio the soft law,
        near 1 the stiff one, between them a mixture.
        """
        room = 1.0 - self.soft_ratio
        stiff = min(1.0, max(0.0, (ratio - self.soft_ratio) / room)) if room > 0.02 else 1.0
        return max(0.0, (1.0 - stiff) * _jump(self._soft, ratio) + stiff * _jump(self._stiff, ratio))


def _jump(torques: list[float], ratio: float) -> float:
    at = min(1.0, max(0.0, ratio)) * 10.0
    low = min(9, int(at))
    here = torques[low] + (torques[low + 1] - torques[low]) * (at - low)
    return torques[0] / here - 1.0 if here > 0.0 else 0.0


def _contact(mirror: float, lap: float, offset: float, hole: float) -> list[tuple[float, float, float]]:
    """Points (x, y from the lap's centre, area) of the lap that lie on glass."""
    points = []
    for ring in range(RINGS):
        rho = (ring + 0.5) / RINGS * lap
        for spoke in range(SPOKES):
            phi = (spoke + 0.5) / SPOKES * 2.0 * math.pi
            x, y = rho * math.cos(phi), rho * math.sin(phi)
            if hole <= math.hypot(x + offset, y) <= mirror:
                points.append((x, y, rho))
    return points or [(0.0, 0.0, 1.0)]


def _balanced(points: list[tuple[float, float, float]]) -> list[float]:
    """Loads on the points for p = max(0, 1 + b x) with its centre at x = 0, b found by bisection."""
    low, high = -1e3, 1e3
    loads: list[float] = []
    for _ in range(50):
        slope = 0.5 * (low + high)
        loads = [max(0.0, 1.0 + slope * x) * area for x, _, area in points]
        moment = sum(load * x for load, (x, _, _) in zip(loads, points, strict=True))
        if moment < 0.0:
            low = slope
        else:
            high = slope
    return loads


def _free_ratio(points: list[tuple[float, float, float]], loads: list[float], offset: float) -> float:
    """Spin ratio at which friction gives the lap no torque, by bisection; torque falls as the ratio rises."""
    low, high = 0.0, 1.0
    for _ in range(12):
        ratio = 0.5 * (low + high)
        torque = 0.0
        for (x, y, _), load in zip(points, loads, strict=True):
            vx, vy = -(1.0 - ratio) * y, offset + (1.0 - ratio) * x
            torque += load * (x * vy - y * vx) / (math.hypot(vx, vy) or 1.0)
        low, high = (ratio, high) if torque > 0.0 else (low, ratio)
    return 0.5 * (low + high)


def _torques(points: list[tuple[float, float, float]], loads: list[float], offset: float) -> list[float]:
    """Torque of the lap on the table, per unit of friction coefficient x load, for each ratio in GRID."""
    total = sum(loads) or 1.0
    out = []
    for ratio in GRID:
        slip = 1.0 - ratio
        torque = 0.0
        for (x, y, _), load in zip(points, loads, strict=True):
            vx, vy = -slip * y, offset + slip * x
            speed = math.hypot(vx, vy)
            if speed > 0.0:
                torque += load * ((x + offset) * vy - y * vx) / speed
        out.append(torque / total)
    return out
