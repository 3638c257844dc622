"""A slow solver of its own, to hold the fast one to: rays from the slip centre, SciPy's adaptive quadrature.

Nothing of `benchctl.physics` is used. Areas are integrated along rays from a point of the x axis (the slip
centre, or the lap's centre): a ray's stretch on the contact is elementary, its integrand a polynomial;
the angle is left to `scipy.integrate.quad_vec`. Pressures are balanced with `scipy.optimize.root`, speeds
with `scipy.optimize.brentq`, the centre of pressure by plain repetition.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad, quad_vec
from scipy.optimize import brentq, root

Array = NDArray[np.float64]
Span = tuple[float, float]
NODES, WEIGHTS = np.polynomial.legendre.leggauss(12)
TOLERANCE = 1e-12


class SlowContact:
    """Lap on mirror; origin at the lap's centre, the mirror's at (-e, 0); unit the lap's radius."""

    def __init__(self, case: dict[str, Any]) -> None:
        self.size = float(case["lap_radius_m"])
        self.rm = case["mirror_radius_m"] / self.size
        self.rh = case.get("hole_radius_m", 0.0) / self.size
        self.e = case["post_offset_m"] / self.size

    def spans(self, from_x: float, angle: float, plane: tuple[float, float, float] | None) -> list[Span]:
        """Stretches of a ray from (from_x, 0) on glass, under the lap, where the plane is positive."""
        cos, sin = math.cos(angle), math.sin(angle)
        low, high = _ray(from_x, cos, sin, 0.0, 1.0)
        start, end = _ray(from_x, cos, sin, -self.e, self.rm)
        low, high = max(low, start, 0.0), min(high, end)
        if plane is not None:
            a, b, c = plane
            level, slope = a + b * from_x, b * cos + c * sin
            if slope > 0.0:
                low = max(low, -level / slope)
            elif slope < 0.0:
                high = min(high, -level / slope)
            elif level <= 0.0:
                return []
        hole = _ray(from_x, cos, sin, -self.e, self.rh)
        pieces = [(low, high)]
        if hole[0] < hole[1]:
            pieces = [(low, min(high, hole[0])), (max(low, hole[1]), high)]
        return [(first, last) for first, last in pieces if last > first]

    def corners(self, from_x: float, plane: tuple[float, float, float] | None) -> list[float]:
        """Angles, seen from (from_x, 0), at which a ray's stretch changes its kind."""
        circles = [(0.0, 1.0), (-self.e, self.rm), (-self.e, self.rh)]
        points = [p for i, one in enumerate(circles) for two in circles[i + 1 :] for p in _meet(one, two)]
        angles = [-math.pi, 0.0, math.pi]
        for x, radius in circles:
            away = abs(from_x - x)
            if away > radius > 0.0:
                tilt, base = math.asin(radius / away), 0.0 if x > from_x else math.pi
                angles += [base + tilt, base - tilt, base + tilt - 2 * math.pi]
        if plane is not None:
            points += [p for circle in circles for p in _meet_line(circle, plane)]
            along = math.atan2(plane[1], -plane[2])
            angles += [along, along - math.pi, along + math.pi]
        angles += [math.atan2(y, x - from_x) for x, y in points]
        return sorted({t for t in angles if -math.pi <= t <= math.pi})

    def integral(
        self,
        function: Callable[[Array, Array, Array], Array],
        from_x: float = 0.0,
        plane: tuple[float, float, float] | None = None,
    ) -> Array:
        """Integral of function(x, y, distance from (from_x, 0)), one row a quantity, over the contact."""

        def along_ray(angle: float) -> Array:
            total = 0.0 * function(np.ones(1), np.ones(1), np.ones(1))[:, 0]
            for low, high in self.spans(from_x, angle, plane):
                rho = low + (high - low) * (NODES + 1) / 2
                x, y = from_x + rho * math.cos(angle), rho * math.sin(angle)
                total = total + function(x, y, rho) @ (rho * WEIGHTS) * (high - low) / 2
            return total

        corners = self.corners(from_x, plane)
        result = 0.0
        for first, last in pairwise(corners):
            if last - first > 1e-14:
                result = result + _square_ends(along_ray, first, last)
        return np.asarray(result)


def _square_ends(function: Callable[[float], Array], first: float, last: float) -> Array:
    """Adaptive integral with the square roots at both ends taken out by t = sin."""
    middle, half = (first + last) / 2, (last - first) / 2

    def eased(u: float) -> Array:
        return function(middle + half * math.sin(u)) * half * math.cos(u)

    value, _ = quad_vec(eased, -math.pi / 2, math.pi / 2, epsabs=1e-14, epsrel=TOLERANCE, limit=400)
    return np.asarray(value)


def _ray(from_x: float, cos: float, sin: float, centre: float, radius: float) -> Span:
    """Where a ray lies within a circle; (1, 0) where it misses."""
    away = from_x - centre
    beside = away * sin
    if abs(beside) >= radius:
        return 1.0, 0.0
    reach = math.sqrt((radius - beside) * (radius + beside))
    return -away * cos - reach, -away * cos + reach


def _meet(one: tuple[float, float], two: tuple[float, float]) -> list[tuple[float, float]]:
    (x1, r1), (x2, r2) = one, two
    apart = x2 - x1
    if apart == 0.0:
        return []
    x = (apart**2 + r1**2 - r2**2) / (2 * apart)
    squared = r1**2 - x**2
    return [(x1 + x, math.sqrt(squared)), (x1 + x, -math.sqrt(squared))] if squared > 0 else []


def _meet_line(circle: tuple[float, float], plane: tuple[float, float, float]) -> list[tuple[float, float]]:
    a, b, c = plane
    slope = math.hypot(b, c)
    if slope == 0.0:
        return []
    gx, gy, distance = b / slope, c / slope, -a / slope - circle[0] * b / slope
    squared = circle[1] ** 2 - distance**2
    if squared <= 0:
        return []
    reach = math.sqrt(squared)
    return [(circle[0] + distance * gx + s * gy, distance * gy - s * gx) for s in (-reach, reach)]


def slow_pressure(contact: SlowContact, law: str, centre: tuple[float, float]) -> tuple[Array, bool]:
    """a, b, c per unit load in lap radii, and whether a part is lifted."""

    def moments(plane: tuple[float, float, float] | None) -> Array:
        flat = contact.integral(lambda x, y, _: np.array([1 + 0 * x, x, y, x * x, x * y, y * y]), 0.0, plane)
        return flat[[0, 1, 2, 1, 3, 4, 2, 4, 5]].reshape(3, 3)

    whole, wanted = moments(None), np.array([1.0, *centre])
    if law == "uniform":
        return np.array([1 / whole[0, 0], 0.0, 0.0]), False
    plane = np.linalg.solve(whole, wanted)
    if law == "linear" or _least(contact, plane) >= 0.0:
        return plane, False

    def unbalanced(trial: Array) -> Array:
        return moments((trial[0], trial[1], trial[2])) @ trial - wanted

    found = root(unbalanced, plane, tol=1e-13)
    assert np.abs(unbalanced(found.x)).max() < 1e-10, "the slow solver found no balance"
    return np.asarray(found.x), True


def _least(contact: SlowContact, plane: Array) -> float:
    """Least value of the plane over the contact, by looking at many points of it."""
    angle = np.linspace(-math.pi, math.pi, 20001)
    found = math.inf
    for x0, radius in ((0.0, 1.0), (-contact.e, contact.rm), (-contact.e, contact.rh)):
        x, y = x0 + radius * np.cos(angle), radius * np.sin(angle)
        on_glass = np.hypot(x + contact.e, y)
        inside = (
            (np.hypot(x, y) <= 1 + 1e-9) & (on_glass <= contact.rm + 1e-9) & (on_glass >= contact.rh - 1e-9)
        )
        if inside.any():
            found = min(found, float((plane[0] + plane[1] * x + plane[2] * y)[inside].min()))
    return found


def slow_friction(contact: SlowContact, plane: Array, lifted: bool, table: float, lap: float) -> Array:
    """Coulomb: lap torque, force x, force y, integral of p |v|, per unit coefficient, load and lap radius."""
    slip = table - lap
    a, b, c = (float(v) for v in plane)
    cut = (a, b, c) if lifted else None
    if abs(table * contact.e) > 30 * abs(slip):
        drift = table * contact.e

        def far(x: Array, y: Array, _: Array) -> Array:
            vx, vy = -slip * y, drift + slip * x
            speed, p = np.hypot(vx, vy), a + b * x + c * y
            return np.array([p * (x * vy - y * vx) / speed, p * vx / speed, p * vy / speed, p * speed])

        return contact.integral(far, 0.0, cut)
    at = -table * contact.e / slip
    sign = math.copysign(1.0, slip)

    def near(x: Array, y: Array, rho: Array) -> Array:
        p, dx = a + b * x + c * y, x - at
        turning = sign * (x * dx + y * y) / rho
        return p * np.array([turning, -sign * y / rho, sign * dx / rho, abs(slip) * rho])

    return contact.integral(near, at, cut)


def slow_viscous(contact: SlowContact, plane: Array, lifted: bool, law: str) -> Array:
    """Moments m0, mx, my, m2 of 1 (film) or p (wetted), in lap radii and unit load."""
    a, b, c = (float(v) for v in plane)
    if law == "film":
        return contact.integral(lambda x, y, _: np.array([1 + 0 * x, x, y, x * x + y * y]))
    return contact.integral(
        lambda x, y, _: (a + b * x + c * y) * np.array([1 + 0 * x, x, y, x * x + y * y]),
        0.0,
        (a, b, c) if lifted else None,
    )


def slow_solve(case: dict[str, Any]) -> dict[str, Any]:
    """Spin ratio, stall torque, table torque, heat, pressure of a case, the slow way."""
    contact, size = SlowContact(case), float(case["lap_radius_m"])
    load, height = float(case["load_n"]), case.get("pivot_height_m", 0.0) / size
    law, friction_law = case["pressure_law"], case["friction_law"]
    table = float(case["table_speed_rad_per_s"])
    constant, viscous = case.get("post_drag_nm", 0.0), case.get("post_drag_viscous_nm_s", 0.0)

    def sums(plane: Array, lifted: bool, ratio: float) -> Array:
        """Lap torque N m, force N, heat W."""
        if friction_law == "coulomb":
            mu = case["friction_coefficient"]
            t, fx, fy, w = slow_friction(contact, plane, lifted, table, ratio * table)
            return mu * load * np.array([t * size, fx, fy, w * size])
        m0, mx, my, m2 = slow_viscous(contact, plane, lifted, friction_law)
        rate = case["film_rate"] * (size**2 if friction_law == "film" else load)
        drift, slip = table * contact.e * size, table * (1 - ratio)
        return rate * np.array(
            [
                size * (drift * mx + slip * m2 * size),
                -slip * size * my,
                drift * m0 + slip * size * mx,
                drift**2 * m0 + 2 * drift * slip * size * mx + (slip * size) ** 2 * m2,
            ]
        )

    def settled(ratio: float) -> tuple[Array, bool]:
        centre = (0.0, -height * case.get("friction_coefficient", 0.0))
        for _ in range(200):
            plane, lifted = slow_pressure(contact, law, centre)
            if height == 0.0 or law == "uniform":
                break
            _, fx, fy, _ = sums(plane, lifted, ratio)
            moved = (-height * fx / load, -height * fy / load)
            if max(abs(moved[0] - centre[0]), abs(moved[1] - centre[1])) < 1e-11:
                break
            centre = moved
        return plane, lifted

    fixed = settled(0.0) if height == 0.0 or law == "uniform" else None

    def at(ratio: float) -> tuple[Array, bool]:
        return fixed if fixed is not None else settled(ratio)

    held = float(sums(*at(0.0), 0.0)[0])
    ratio, stalled = 0.0, abs(held) <= constant
    if not stalled:
        drag = math.copysign(constant, held)

        def excess(ratio: float) -> float:
            return float(sums(*at(ratio), ratio)[0]) - drag - viscous * ratio * table

        ratio = _root(excess, held - drag)
    plane, lifted = at(ratio)
    torque, fx, fy, heat = sums(plane, lifted, ratio)
    return {
        "spin_ratio": ratio,
        "stall_torque_nm": held,
        "stalled": stalled,
        "table_torque_nm": torque + contact.e * size * fy,
        "friction_power_w": heat,
        "pressure_coefficients": [
            load / size**2 * plane[0],
            load / size**3 * plane[1],
            load / size**3 * plane[2],
        ],
        "face_lifted": lifted,
        "post_force_n": math.hypot(fx, fy),
    }


def _root(excess: Callable[[float], float], at_rest: float) -> float:
    """The steady ratio: the excess torque falls as the lap speeds up."""
    sign = math.copysign(1.0, at_rest)
    if sign > 0 and abs(excess(1.0)) < 1e-13 * abs(at_rest):
        return 1.0
    far = sign
    while sign * excess(far) > 0.0:
        far *= 3.0
        assert abs(far) < 1e9
    return float(brentq(excess, 0.0, far, xtol=1e-13, rtol=1e-13))


def slow_rate(case: dict[str, Any], plane: Array, lifted: bool, ratio: float, radius: float) -> float:
    """Removal rate at one radius (m/s) from a, b, c in Pa and Pa/m, by `scipy.integrate.quad`."""
    e, lap = case["post_offset_m"], case["lap_radius_m"]
    table = float(case["table_speed_rad_per_s"])
    a, b, c = (float(v) for v in plane)

    def wear(phi: float) -> float:
        x, y = radius * math.cos(phi) - e, radius * math.sin(phi)
        p = a + b * x + c * y
        vx, vy = -(table - ratio * table) * y, table * e + (table - ratio * table) * x
        return (max(p, 0.0) if lifted else p) * math.hypot(vx, vy)

    if radius <= lap - e:
        widest = math.pi
    elif abs(radius - e) >= lap:
        return 0.0
    else:
        widest = math.acos((radius**2 + e**2 - lap**2) / (2 * radius * e))
    cuts = {-widest, 0.0, widest}
    if lifted and math.hypot(b, c) * radius > abs(a - b * e):
        middle, width = math.atan2(c, b), math.acos(-(a - b * e) / (math.hypot(b, c) * radius))
        turns = [middle + s * width + t for s in (-1, 1) for t in (-2 * math.pi, 0.0, 2 * math.pi)]
        cuts |= {t for t in turns if -widest < t < widest}
    edges = sorted(cuts)
    total = sum(
        quad(wear, first, last, epsabs=0.0, epsrel=1e-12, limit=400)[0]
        for first, last in pairwise(edges)
        if last - first > 1e-15
    )
    return float(case["preston_per_pa"] / (2 * math.pi) * total)
