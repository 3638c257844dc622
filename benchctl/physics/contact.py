"""Where the lap lies on the glass: the contact, its area, its moments, its overhang.

Axes: the mirror's centre O lies at x = -e, the lap's centre C at the origin, e being the post offset;
all lengths in metres. The contact is disc(C, lap) within the ring (O; hole, mirror). Its boundary is
made of arcs of the three circles, and every integral over it is taken along that boundary.
Formulas: circle and lens geometry as in any handbook of plane geometry; derived and checked here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.boundary import Arc, Array, Boundary, clip
from benchctl.physics.checks import not_negative, positive

_POINT = 1e-12
"""A hole smaller than this share of the mirror is a point, an offset smaller than this of the lap none."""


@dataclass(frozen=True)
class Moments:
    """Area (m2), first moments (m3) and second moments (m4) about the lap's centre; x points to the rim."""

    area: float
    sx: float
    sy: float
    xx: float
    xy: float
    yy: float


@dataclass(frozen=True)
class Contact:
    """A lap on a mirror. Radii and post offset in metres; the hole may be 0.

    BadInput names the argument where a size is negative or not a number, where the hole is not smaller
    than the mirror, and where lap and glass do not meet.
    """

    mirror_radius_m: float
    lap_radius_m: float
    post_offset_m: float
    hole_radius_m: float = 0.0

    def __post_init__(self) -> None:
        mirror = positive("mirror_radius_m", self.mirror_radius_m)
        lap = positive("lap_radius_m", self.lap_radius_m)
        offset = not_negative("post_offset_m", self.post_offset_m)
        hole = not_negative("hole_radius_m", self.hole_radius_m)
        if hole >= mirror:
            raise BadInput(f"hole_radius_m: {hole:g} must be less than mirror_radius_m, {mirror:g}")
        if offset - lap >= mirror:
            raise BadInput(
                f"post_offset_m: {offset:g} puts the lap beside the mirror; it must be below {mirror + lap:g}"
            )
        if offset + lap <= hole:
            raise BadInput(
                f"post_offset_m: {offset:g} puts the whole lap over the hole; it must be above {hole - lap:g}"
            )

    @cached_property
    def boundary(self) -> Boundary:
        """The contact's boundary, arc by arc (the half with y >= 0; the other mirrors it)."""
        return Boundary(tuple(self._arcs()))

    def pressed(self, a: float, b: float, c: float) -> Boundary:
        """The part of the contact where a + b x + c y >= 0."""
        circles = (
            (0.0, self.lap_radius_m),
            (-self.post_offset_m, self.mirror_radius_m),
            (-self.post_offset_m, self.hole_radius_m),
        )
        return clip(self.boundary, circles, a, b, c)

    def _arcs(self) -> list[Arc]:
        mirror, lap, offset, hole = (
            self.mirror_radius_m,
            self.lap_radius_m,
            self.post_offset_m,
            self.hole_radius_m,
        )
        start, under_mirror = _cut(mirror, lap, offset)
        end, under_hole = _cut(hole, lap, offset)
        arcs = [Arc(0.0, lap, 1.0, start, end)] if start < end else []
        if under_mirror > 0.0:
            arcs.append(Arc(-offset, mirror, 1.0, 0.0, under_mirror))
        if under_hole > 0.0 and hole > _POINT * mirror:
            arcs.append(Arc(-offset, hole, -1.0, 0.0, under_hole))
        return arcs

    @cached_property
    def moments(self) -> Moments:
        """Area and moments of the contact about the lap's centre."""
        return Moments(*self.boundary.moments)

    @property
    def concentric(self) -> bool:
        """True where the post stands over the mirror's axis, to 1e-12 of the lap's radius."""
        return self.post_offset_m <= _POINT * self.lap_radius_m

    @property
    def area_m2(self) -> float:
        """Area of the contact, square metres."""
        return self.moments.area

    @cached_property
    def overhang_fraction(self) -> float:
        """Share of the lap beyond the mirror's rim: 1 - A(lap within the mirror's circle)/(pi Rl^2)."""
        if self.post_offset_m + self.lap_radius_m <= self.mirror_radius_m:
            return 0.0
        whole = Contact(self.mirror_radius_m, self.lap_radius_m, self.post_offset_m)
        return 1.0 - whole.area_m2 / (math.pi * self.lap_radius_m**2)

    @cached_property
    def outline(self) -> tuple[Array, Array]:
        """Points x, y along the upper half of the contact's rim, corners included, metres."""
        centre, radius, _, start, end, _ = self.boundary.columns
        angle = start + (end - start) * np.linspace(0.0, 1.0, 33)
        return (centre + radius * np.cos(angle)).ravel(), (radius * np.sin(angle)).ravel()


def _cut(circle: float, lap: float, offset: float) -> tuple[float, float]:
    """Half-angles at which a circle about O cuts the lap's: seen from C, and seen from O.

    The lap's rim lies within the circle from the first angle on; the circle's arc up to the second lies
    under the lap. Both come from the one corner point, so the boundary closes even where circles touch.
    """
    if lap + offset <= circle:
        return 0.0, 0.0
    if offset - lap >= circle:
        return math.pi, 0.0
    if lap - offset >= circle:
        return math.pi, math.pi if circle > 0.0 else 0.0
    x = (circle**2 - lap**2 - offset**2) / (2 * offset)
    y = math.sqrt(max(0.0, (lap - x) * (lap + x)))
    return math.atan2(y, x), math.atan2(y, x + offset)
