"""The spin ratio: where the friction that drives the lap balances the drag at the post.

At a fixed pressure the friction torque M rises with the slip delta (the rubbing is convex in it and M is its
derivative: derived, checked), and the drag rises with the lap's speed, so there is one steady speed. In terms
of the angle atan(delta/(Omega e/Rl)) the whole range of speeds is finite and M smooth; a bracketing root
finder does the rest. With a load at the lap's centre and no drag the lap spins exactly with the table.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Array
from benchctl.physics.checks import finite, not_negative, positive
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction_torques
from benchctl.physics.lap_torque import LapTorque
from benchctl.physics.pressure import Pressure, solve_pressure

_TIGHT = 4e-16
_BALANCED = 2e-15
_WELL_SEEN = 1.2
"""Up to this angle a torque within rounding of the drag settles the ratio well within 1e-12."""
_NEAR = 1e-12


def coulomb_spin_ratio(
    contact: Contact,
    pressure: Pressure,
    friction_coefficient: float,
    post_drag_nm: float = 0.0,
    post_drag_viscous_nm: float = 0.0,
) -> float:
    """Steady lap speed over table speed under Coulomb friction; 0 where the drag holds the lap.

    `post_drag_nm` is the constant drag (N m), `post_drag_viscous_nm` the viscous drag at the table's speed
    (N m s times rad/s). Negative where the lap counter-rotates, above 1 where it leads.
    """
    positive("friction_coefficient", friction_coefficient)
    not_negative("post_drag_nm", post_drag_nm)
    not_negative("post_drag_viscous_nm", post_drag_viscous_nm)
    held = friction_coefficient * friction_torques(contact, pressure, 1.0, 0.0)[0]
    if abs(held) <= post_drag_nm:
        return 0.0
    drag = math.copysign(post_drag_nm, held)
    return turning_ratio(contact, pressure, friction_coefficient, drag, post_drag_viscous_nm)


def turning_ratio(
    contact: Contact, pressure: Pressure, friction_coefficient: float, drag_nm: float, viscous_nm: float
) -> float:
    """Ratio at which friction equals a drag whose sign is given: the lap is known to turn.

    Newton's method on the angle of the slip, halving where it would leave the bounds known so far. A linear
    pressure that pulls, and a lap on the mirror's axis, are left to `steady_ratio`.
    """
    offset = contact.post_offset_m / contact.lap_radius_m
    scale = friction_coefficient * abs(pressure.load_n) * contact.lap_radius_m
    pulls = pressure.lowest_pa < 0.0 and not pressure.lifted
    if pulls or contact.concentric:

        def torque(table: float, lap: float) -> float:
            return friction_coefficient * friction_torques(contact, pressure, table, lap)[0]

        return steady_ratio(contact, torque, drag_nm, viscous_nm, scale, pulls)
    friction = LapTorque(contact, pressure)

    def excess(angle: float) -> tuple[float, float]:
        value, slope = friction.at(angle)
        lap, cosine = 1.0 - offset * math.tan(angle), math.cos(angle)
        return (
            friction_coefficient * value - drag_nm - viscous_nm * lap,
            friction_coefficient * slope + viscous_nm * offset / (cosine * cosine),
        )

    angle = newton_root(excess, math.pi / 2 - 1e-12, _BALANCED * scale)
    return 1.0 - offset * math.tan(angle)


def newton_root(function: Callable[[float], tuple[float, float]], edge: float, balanced: float) -> float:
    """Root within -edge..edge of an increasing function that gives its value and slope, begun at 0."""
    low, high, angle = -edge, edge, 0.0
    for _ in range(100):
        value, slope = function(angle)
        if value == 0.0 or (abs(value) <= balanced and abs(angle) < _WELL_SEEN):
            return angle
        low, high = (angle, high) if value < 0.0 else (low, angle)
        step = -value / slope if slope > 0.0 else math.inf
        wanted = angle + step
        if not low < wanted < high:
            wanted = (low + high) / 2
        elif abs(step) <= 1e-9 * math.cos(angle):
            return wanted
        if high - low <= 4 * _TIGHT:
            return wanted
        angle = wanted
    return angle


def steady_ratio(
    contact: Contact,
    torque: Callable[[float, float], float],
    drag_nm: float,
    viscous_nm: float,
    scale_nm: float,
    pulls: bool = False,
    near: float | None = None,
) -> float:
    """Ratio lap/table at which `torque(table, lap)`, a function of that ratio alone, equals the drag.

    `scale_nm` says how large a torque is large; with `pulls` the torque may fall where it ought to rise;
    `near` is a ratio close to the answer, where one is known.
    """
    offset = contact.post_offset_m / contact.lap_radius_m
    if contact.concentric:
        driving = torque(1.0, 0.0) - drag_nm
        return 1.0 if driving >= viscous_nm else max(driving, 0.0) / (viscous_nm or 1.0)

    def excess(angle: float) -> float:
        table = math.cos(angle)
        lap = table - offset * math.sin(angle)
        return torque(table, lap) - drag_nm - (viscous_nm * lap / table if viscous_nm else 0.0)

    if near is not None and (found := _secant_root(excess, math.atan((1.0 - near) / offset))) is not None:
        return 1.0 - offset * math.tan(found)
    in_step = excess(0.0)
    if abs(in_step) <= _BALANCED * scale_nm:
        return 1.0
    edge = math.pi / 2 - (1e-9 if viscous_nm else 0.0)
    if pulls:
        low, high = _nearest_change(excess, edge)
    elif in_step > 0.0:
        low, high = (-edge, excess(-edge)), (0.0, in_step)
    else:
        standing = math.atan(1.0 / offset)
        low, high = (0.0, in_step), (standing, excess(standing))
        if high[1] < 0.0:
            low, high = high, (edge, excess(edge))
    return 1.0 - offset * math.tan(find_root(excess, low, high, _BALANCED * scale_nm))


def _secant_root(function: Callable[[float], float], start: float) -> float | None:
    """Root close to `start` by a few secant steps of shrinking length, or None."""
    before, now = start, start - math.copysign(1e-5, start)
    low, value = function(before), function(now)
    for _ in range(8):
        step = value * (now - before) / (value - low) if value != low else math.inf
        if abs(step) > 0.05:
            return None
        before, low, now = now, value, now - step
        if abs(step) <= _NEAR:
            return now
        value = function(now)
    return None


Point = tuple[float, float]
"""An angle and the value of the function there."""


def _nearest_change(function: Callable[[float], float], edge: float) -> tuple[Point, Point]:
    """Bounds of the rise through 0 nearest to 0: a pressure that pulls may have several steady speeds."""
    angles = np.linspace(-edge, edge, 129)
    values = np.array([function(float(angle)) for angle in angles])
    rises = np.flatnonzero((values[:-1] <= 0.0) & (values[1:] > 0.0))
    if rises.size == 0:
        raise BadInput("pressure_law: a linear pressure that pulls leaves no steady speed; use no_tension")
    best = rises[np.abs(angles[rises] + angles[rises + 1]).argmin()]
    low, high = ((float(angles[i]), float(values[i])) for i in (best, best + 1))
    return low, high


def find_root(function: Callable[[float], float], low: Point, high: Point, balanced: float = 0.0) -> float:
    """Root of an increasing function between two points (Chandrupatla 1997, from memory)."""
    (b, fb), (a, fa) = low, high
    if fb >= 0.0 or fa <= 0.0:
        return b if fb >= 0.0 else a
    share = min(0.95, max(0.05, fa / (fa - fb)))
    for _ in range(100):
        point = a + share * (b - a)
        value = function(point)
        c, fc = (a, fa) if (value > 0.0) == (fa > 0.0) else (b, fb)
        if c == b:
            b, fb = a, fa
        a, fa = point, value
        best, least = (a, fa) if abs(fa) < abs(fb) else (b, fb)
        limit = (2 * _TIGHT * abs(best) + 2e-15) / max(abs(b - c), 1e-300)
        if limit > 0.5 or abs(least) <= (balanced if abs(best) < _WELL_SEEN else 0.0):
            return best
        share = _next_share(a, b, c, fa, fb, fc, limit)
    return best


def _next_share(a: float, b: float, c: float, fa: float, fb: float, fc: float, limit: float) -> float:
    """Inverse quadratic interpolation where it is safe, halving where it is not."""
    if c == b or fc == fb:
        return 0.5
    xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
    if not (phi * phi < xi and (1 - phi) ** 2 < 1 - xi):
        return 0.5
    share = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    return min(1 - limit, max(limit, share))


def torque_table(contact: Contact, load_n: float, points: int = 720) -> tuple[Array, Array]:
    """Lap torque and table torque (N m per unit friction coefficient) over the angle atan2(lap, table).

    Two arrays of length `points` for the angles 2 pi k/points; no-tension pressure, load in newtons at the
    lap's centre. Coulomb friction asks only for the ratio of the speeds, so this holds every pair of them.
    `points` is even: both speeds turned round turn both torques round, so half of them are worked out.
    """
    if positive("points", points) % 2:
        raise BadInput(f"points: {points} is odd; give an even number")
    pressure = solve_pressure(contact, not_negative("load_n", load_n))
    angles = 2 * np.pi * np.arange(points // 2) / points
    half = np.array([friction_torques(contact, pressure, math.cos(t), math.sin(t)) for t in angles])
    lap_nm, table_nm = np.concatenate((half, -half)).T
    return lap_nm, table_nm


def predicted_spin(
    contact: Contact,
    *,
    load_n: float,
    friction_coefficient: float,
    post_drag_nm: float = 0.0,
    post_drag_viscous_nm: float = 0.0,
) -> float:
    """Spin ratio to expect on the bench: centre load, no tension, Coulomb friction, given post drag."""
    pressure = solve_pressure(contact, positive("load_n", load_n))
    return coulomb_spin_ratio(
        contact,
        pressure,
        friction_coefficient,
        post_drag_nm,
        post_drag_viscous_nm,
    )


def predicted_load_jump(contact: Contact, *, load_n: float, spin_ratio: float = 1.0) -> float:
    """Table torque with the lap stopped over table torque with the lap at `spin_ratio`; 1 is no change.

    A weak sign of a stall (some 20 % at the even offset of a 70 % lap: derived, checked), so a lap watcher
    should know how weak before it leans on it.
    """
    finite("spin_ratio", spin_ratio)
    pressure = solve_pressure(contact, positive("load_n", load_n))
    stopped = friction_torques(contact, pressure, 1.0, 0.0)[1]
    running = friction_torques(contact, pressure, 1.0, spin_ratio)[1]
    return stopped / running if running > 0.0 else math.inf
