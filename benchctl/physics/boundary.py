"""Integrals over a region bounded by arcs and chords, taken along its boundary.

For f homogeneous of degree k about a point S, the divergence theorem gives
    integral of f dA = 1/(k+2) * closed integral of f (rho . n) ds,   rho = position from S,
exactly, whether S lies inside the region or not. Gauss-Legendre nodes on each piece do the rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NODES_ALONG, NODES_INWARD = 20, 10


class Arc(NamedTuple):
    """Part of a circle centred at (centre, 0): angles within 0..pi; `half` -1 is its mirror image.

    `outward` is +1 where the region's outward normal points away from the circle's centre, else -1.
    """

    centre: float
    radius: float
    outward: float
    start: float
    end: float
    half: float = 1.0


class Chord(NamedTuple):
    """Part of the line g.x = distance, `start` to `end` along (-gy, gx); the region has g.x >= distance."""

    gx: float
    gy: float
    distance: float
    start: float
    end: float


def gauss(count: int) -> tuple[Array, Array]:
    """Gauss-Legendre nodes and weights on 0..1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return (nodes + 1.0) / 2.0, weights / 2.0


_ALONG, _ALONG_WEIGHTS = gauss(NODES_ALONG)
_INWARD, _INWARD_WEIGHTS = gauss(NODES_INWARD)


@dataclass(frozen=True)
class Boundary:
    """Arcs and chords that close a region. Where `symmetric`, only the half y >= 0 is listed."""

    arcs: tuple[Arc, ...]
    chords: tuple[Chord, ...] = ()
    symmetric: bool = True

    @cached_property
    def columns(self) -> Array:
        """The arcs as an array of shape (6, arcs, 1): centre, radius, outward, start, end, half."""
        return np.array(self.arcs, dtype=float).reshape(-1, 6).T[:, :, None]

    @cached_property
    def rim(self) -> tuple[Array, Array, Array]:
        """Points x, y of the boundary and weights (position . normal) ds, seen from the lap's centre."""
        centre, radius, outward, start, end, half = self.columns
        angle = start + (end - start) * _ALONG
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y = centre + radius * cosine, half * radius * sine
        weight = outward * (radius + centre * cosine) * radius * (end - start) * _ALONG_WEIGHTS
        parts = [(x.ravel(), y.ravel(), weight.ravel())]
        for gx, gy, distance, first, last in self.chords:
            along = first + (last - first) * _ALONG
            parts.append(
                (
                    distance * gx - along * gy,
                    distance * gy + along * gx,
                    -distance * (last - first) * _ALONG_WEIGHTS,
                )
            )
        xs, ys, weights = (np.concatenate([part[i] for part in parts]) for i in range(3))
        return xs, ys, weights * (2.0 if self.symmetric else 1.0)

    @cached_property
    def inside(self) -> tuple[Array, Array, Array]:
        """Points x, y and weights that integrate a smooth function over the region.

        Rays run from the lap's centre to the rim, so the function must be smooth on them too.
        """
        x, y, weight = self.rim
        return (
            np.outer(_INWARD, x).ravel(),
            np.outer(_INWARD, y).ravel(),
            np.outer(_INWARD * _INWARD_WEIGHTS, weight).ravel(),
        )

    def both_halves(self) -> Boundary:
        """The same region with its mirrored half listed too, for integrands that are not symmetric."""
        return Boundary((*self.arcs, *(arc._replace(half=-1.0) for arc in self.arcs)), symmetric=False)

    @cached_property
    def moments(self) -> tuple[float, float, float, float, float, float]:
        """Area, integrals of x, y, x^2, x y, y^2 about the lap's centre (m2, m3, m4)."""
        x, y, weight = self.rim
        odd = 0.0 if self.symmetric else 1.0
        return (
            float(weight.sum()) / 2,
            float(weight @ x) / 3,
            odd * float(weight @ y) / 3,
            float(weight @ (x * x)) / 4,
            odd * float(weight @ (x * y)) / 4,
            float(weight @ (y * y)) / 4,
        )


Circles = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
"""Centre on the x axis and radius of lap, mirror and hole: within the first two, outside the last."""


def clip(boundary: Boundary, circles: Circles, a: float, b: float, c: float) -> Boundary:
    """The part of a region where a + b x + c y >= 0.

    `boundary` must be symmetric and without chords; the result lists both halves when c is not 0.
    """
    slope = math.hypot(b, c)
    if slope == 0.0:
        return boundary if a >= 0.0 else Boundary(())
    gx, gy, distance = b / slope, c / slope, -a / slope
    halves = boundary.arcs if c == 0.0 else boundary.both_halves().arcs
    arcs = [part for arc in halves for part in _clip_arc(arc, gx, gy, distance)]
    chords = [Chord(gx, gy, distance, *ends) for ends in _chord_ends(circles, gx, gy, distance)]
    if c == 0.0:
        chords = [_upper_half(chord) for chord in chords if _upper_half(chord).end > _upper_half(chord).start]
    return Boundary(tuple(arcs), tuple(chords), symmetric=c == 0.0)


def _upper_half(chord: Chord) -> Chord:
    if chord.gx > 0.0:
        return chord._replace(start=max(chord.start, 0.0))
    return chord._replace(end=min(chord.end, 0.0))


def _clip_arc(arc: Arc, gx: float, gy: float, distance: float) -> list[Arc]:
    """The parts of an arc with g.x >= distance."""
    offset = (distance - arc.centre * gx) / arc.radius
    if abs(offset) >= 1.0:
        return [arc] if offset < 0.0 else []
    middle, width = math.atan2(arc.half * gy, gx), math.acos(offset)
    turn = 2 * math.pi
    cuts = sorted(
        {(middle + sign * width + shift) for sign in (-1, 1) for shift in (-turn, 0.0, turn)}
        | {arc.start, arc.end}
    )
    cuts = [t for t in cuts if arc.start <= t <= arc.end]
    return [
        arc._replace(start=first, end=last)
        for first, last in pairwise(cuts)
        if math.cos((first + last) / 2 - middle) > offset and last > first
    ]


def _chord_ends(circles: Circles, gx: float, gy: float, distance: float) -> list[tuple[float, float]]:
    """Stretches of the line g.x = distance within the region, as positions along (-gy, gx)."""
    *within, hole = (_on_line(circle, gx, gy, distance) for circle in circles)
    start, end = max(first for first, _ in within), min(last for _, last in within)
    pieces = [(start, min(end, hole[0])), (max(start, hole[1]), end)] if hole[0] < hole[1] else [(start, end)]
    return [(first, last) for first, last in pieces if first < last]


def _on_line(circle: tuple[float, float], gx: float, gy: float, distance: float) -> tuple[float, float]:
    """Where the line lies within a circle; an empty stretch (inf, -inf) where it misses."""
    centre, radius = circle
    from_centre = distance - centre * gx
    if abs(from_centre) >= radius:
        return math.inf, -math.inf
    reach = math.sqrt((radius - from_centre) * (radius + from_centre))
    return -centre * gy - reach, -centre * gy + reach
