"""Pressure under the lap: even, linear, or linear without tension, from the balance of force and moment.

The lap is stiff and free to tilt about its pivot on the post; the pitch is a bed of springs. Then
p = a + b x + c y with x, y from the lap's centre (x towards the rim, y along the glass's motion), and
    integral of p = W,   integral of p x = W x_p,   integral of p y = W y_p
fix a, b, c, (x_p, y_p) being the centre of pressure. Without tension p = max(0, a + b x + c y).
Derived for this project; checked against a separate numerical solver. Pitch creeps and the true edge
pressure is steeper within a narrow rim: Luna-Aguilar et al., Proc. SPIE 4840 (2003) 598 (abstract read).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Boundary
from benchctl.physics.checks import finite, not_negative
from benchctl.physics.contact import Contact

PressureLaw = Literal["uniform", "linear", "no_tension"]
PRESSURE_LAWS: tuple[str, ...] = get_args(PressureLaw)
_STEPS = 200
_SETTLED = 1e-13


@dataclass(frozen=True)
class Pressure:
    """p = a + b x + c y (Pa, Pa/m), carrying `load_n`."""

    a: float
    b: float
    c: float
    load_n: float
    pressed: Boundary
    """The part of the contact that carries load; may be symmetric though the pressure is not (c not 0)."""
    lowest_pa: float
    """Least value of a + b x + c y over the whole contact; below 0 a part would have to pull."""
    lifted: bool
    """True where a part of the contact carries nothing."""

    @property
    def coefficients(self) -> tuple[float, float, float]:
        return self.a, self.b, self.c


def solve_pressure(
    contact: Contact,
    load_n: float,
    law: PressureLaw = "no_tension",
    centre_m: tuple[float, float] = (0.0, 0.0),
) -> Pressure:
    """Pressure for a load in newtons whose centre of pressure is `centre_m` from the lap's centre.

    The even law ignores `centre_m`. BadInput where no pressure can balance the load: the lap topples.
    """
    for value in centre_m:
        finite("centre_m", value)
    if law not in PRESSURE_LAWS:
        raise BadInput(f"pressure_law: {law!r} is not known; use one of {', '.join(PRESSURE_LAWS)}")
    not_negative("load_n", load_n)
    if law == "uniform":
        even = load_n / contact.area_m2
        return Pressure(even, 0.0, 0.0, load_n, contact.boundary, even, False)
    a, b, c = (load_n * value for value in _balanced(contact.boundary, contact, centre_m))
    lowest = lowest_pressure(contact, a, b, c)
    if law == "linear" or lowest >= 0.0:
        return Pressure(a, b, c, load_n, contact.boundary, lowest, False)
    return _without_tension(contact, load_n, centre_m)


def _balanced(region: Boundary, contact: Contact, centre: tuple[float, float]) -> tuple[float, float, float]:
    """Coefficients per newton that balance a load at `centre` on this region."""
    area, sx, sy, xx, xy, yy = region.moments
    scale = contact.lap_radius_m
    if region.symmetric and centre[1] == 0.0:
        pair = np.array([[area, sx / scale], [sx / scale, xx / scale**2]])
        a, b = np.linalg.solve(pair, [1.0, centre[0] / scale])
        return float(a), float(b) / scale, 0.0
    matrix = np.array(
        [
            [area, sx / scale, sy / scale],
            [sx / scale, xx / scale**2, xy / scale**2],
            [sy / scale, xy / scale**2, yy / scale**2],
        ]
    )
    a, b, c = np.linalg.solve(matrix, [1.0, centre[0] / scale, centre[1] / scale])
    return float(a), float(b) / scale, float(c) / scale


def _without_tension(contact: Contact, load_n: float, centre: tuple[float, float]) -> Pressure:
    """Newton's method: the linear law on the part that carries, until that part stays the same."""
    refuse_toppling(contact, centre)
    coefficients = np.array(_balanced(contact.boundary, contact, centre))
    scale = np.array([1.0, contact.lap_radius_m, contact.lap_radius_m])
    region, step = contact.pressed(*coefficients), 1.0
    misfit = _misfit(region, contact, coefficients, centre)
    for _ in range(_STEPS):
        wanted = np.array(_balanced(region, contact, centre))
        change = wanted - coefficients
        if np.abs(change * scale).max() <= _SETTLED * np.abs(wanted * scale).max():
            a, b, c = (float(value) for value in load_n * wanted)
            return Pressure(a, b, c, load_n, region, lowest_pressure(contact, a, b, c), True)
        step = min(1.0, 2 * step)
        while True:
            trial = coefficients + step * change
            region = contact.pressed(*trial)
            left = _misfit(region, contact, trial, centre)
            if left < misfit or misfit < 1e-13 or step < 1e-4:
                break
            step /= 2
        coefficients, misfit = trial, left
    raise BadInput(
        f"post_offset_m: {contact.post_offset_m:g} leaves the lap all but toppling; move the post in"
    )


def _misfit(
    region: Boundary, contact: Contact, coefficients: np.ndarray, centre: tuple[float, float]
) -> float:
    """How far the pressure is from balance, as a share of the load."""
    area, sx, sy, xx, xy, yy = region.moments
    matrix = np.array([[area, sx, sy], [sx, xx, xy], [sy, xy, yy]])
    force, along, across = matrix @ coefficients
    scale = contact.lap_radius_m
    return float(max(abs(force - 1.0), abs(along - centre[0]) / scale, abs(across - centre[1]) / scale))


def refuse_toppling(contact: Contact, centre: tuple[float, float]) -> None:
    """BadInput where the load lies outside the hull of the contact: all glass on one side of it."""
    x, y = contact.outline
    seen = np.sort(np.arctan2(np.concatenate((y, -y)) - centre[1], np.concatenate((x, x)) - centre[0]))
    gaps = np.diff(seen, append=seen[0] + 2 * np.pi)
    if gaps.max() >= np.pi:
        raise BadInput(
            f"post_offset_m: {contact.post_offset_m:g} lets the lap topple, its load lies beyond the glass"
            " under it; move the post in or lower the drive point"
        )


def lowest_pressure(contact: Contact, a: float, b: float, c: float) -> float:
    """Least value of a + b x + c y over the contact: at at a corner or square to an arc."""
    slope = float(np.hypot(b, c))
    if slope == 0.0:
        return a
    offset = contact.post_offset_m
    points = [
        (arc.centre + arc.radius * np.cos(t), arc.radius * np.sin(t) * side)
        for arc in contact.boundary.arcs
        for t in (arc.start, arc.end)
        for side in (-1.0, 1.0)
    ]
    squarely = [
        (-contact.lap_radius_m * b / slope, -contact.lap_radius_m * c / slope),
        (-offset - contact.mirror_radius_m * b / slope, -contact.mirror_radius_m * c / slope),
    ]
    points += [(x, y) for x, y in squarely if _in_contact(contact, x, y)]
    return float(min(a + b * x + c * y for x, y in points))


def _in_contact(contact: Contact, x: float, y: float) -> bool:
    slack = 1e-12 * contact.mirror_radius_m
    from_mirror = np.hypot(x + contact.post_offset_m, y)
    return bool(
        np.hypot(x, y) <= contact.lap_radius_m + slack
        and contact.hole_radius_m - slack <= from_mirror <= contact.mirror_radius_m + slack
    )


def first_lift_offset_m(
    mirror_radius_m: float, lap_radius_m: float, hole_radius_m: float = 0.0, back_m: float = 0.0
) -> float | None:
    """Least post offset (m) at which part of the face carries nothing, the load `back_m` behind the centre.

    In step friction moves the centre of pressure back by mu h, h the drive point's height (derived). None
    where the face stays pressed as far as the lap can be held; 0 where it lifts at every offset.
    """

    def lowest(offset: float) -> float:
        contact = Contact(mirror_radius_m, lap_radius_m, offset, hole_radius_m)
        return solve_pressure(contact, 1.0, "linear", (0.0, -back_m)).lowest_pa

    start = max(0.0, hole_radius_m - lap_radius_m) + 1e-6 * mirror_radius_m
    offsets = np.linspace(start, mirror_radius_m, 101)
    if lowest(float(offsets[0])) < 0.0:
        return 0.0
    lifted = next((i for i, offset in enumerate(offsets) if lowest(float(offset)) < 0.0), None)
    if lifted is None:
        return None
    low, high = float(offsets[lifted - 1]), float(offsets[lifted])
    for _ in range(48):
        middle = (low + high) / 2
        low, high = (middle, high) if lowest(middle) >= 0.0 else (low, middle)
    return high
