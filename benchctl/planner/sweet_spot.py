"""Where to set the post: the most even offset, the neutral one, where the face lifts, and what a move does.

Most even: least area-weighted scatter of the removal (CV). Neutral: no r^2 term in the removal, so that the
radius of curvature stays put. Neither is a law of nature: a stiff lap on a bed of springs is assumed, and
other assumptions move the neutral overhang by up to 3 % of the mirror's diameter (computed). The change per
millimetre is the firmer figure.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.case import Case
from benchctl.physics.evenness import Survey, Turning, survey
from benchctl.physics.solve import Steady, steady_state
from benchctl.planner.case_of import moved

STEP_OF_RADIUS = 0.01
"""Offsets are surveyed in steps of this share of the mirror's radius."""
SWEEP_STEPS = 10
_GOLDEN = (math.sqrt(5) - 1) / 2
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True)
class OffsetPoint:
    """What the post at one offset does. Metres, metres a second; shares of the mean rate; None: no finite
    value. `curve_tendency`: rate at the rim less rate at the centre of the parabola that fits the removal
    best (area-weighted), over the mean rate: below 0 the curve gets shorter, above 0 longer."""

    offset_m: float
    overhang_m: float
    spin_ratio: float
    mean_rate_m_per_s: float
    cv: float | None
    pv: float | None
    edge_over_centre: float | None
    zone_shares: tuple[float, ...]
    curve_tendency: float
    pressure_min_pa: float
    face_lifted: bool


@dataclass(frozen=True)
class BestOffsets:
    """Offsets in metres, None where the lap has none: most even, neutral, first lift of the face."""

    most_even: OffsetPoint
    neutral: OffsetPoint | None
    first_lift_m: float | None


def turning_of(case: Case, steady: Steady, spin_ratio: float | None = None) -> Turning:
    """Lap on mirror as it turns, at the steady spin ratio or at another one."""
    ratio = steady.spin_ratio if spin_ratio is None else spin_ratio
    return Turning(
        case.contact, steady.pressure, case.table_rad_s, ratio * case.table_rad_s, case.preston_per_pa
    )


def mean_rate(case: Case, found: Survey) -> float:
    """Area-weighted mean removal rate of the mirror's ring, m/s, from its five zones."""
    edges = np.linspace(case.contact.hole_radius_m, case.contact.mirror_radius_m, 6) ** 2
    return float(np.average(found.zone_rates_m_per_s, weights=np.diff(edges)))


def at_offset(case: Case, offset_m: float) -> OffsetPoint:
    """Survey of one offset. BadInput where the lap misses the glass or topples."""
    there = moved(case, offset_m)
    steady = steady_state(there)
    turning = turning_of(there, steady)
    found = survey(turning, there.radii_m[:1])
    mean = mean_rate(there, found)
    return OffsetPoint(
        offset_m=offset_m,
        overhang_m=offset_m + there.contact.lap_radius_m - there.contact.mirror_radius_m,
        spin_ratio=steady.spin_ratio,
        mean_rate_m_per_s=mean,
        cv=found.cv,
        pv=found.pv,
        edge_over_centre=found.edge_over_centre,
        zone_shares=tuple(rate / mean if mean > 0.0 else 0.0 for rate in found.zone_rates_m_per_s),
        curve_tendency=curve_tendency(turning),
        pressure_min_pa=steady.pressure.lowest_pa,
        face_lifted=steady.pressure.lifted,
    )


def curve_tendency(turning: Turning) -> float:
    """Slope k of the best fit rate/mean = 1 + k (u - 1/2) over the glass, u = (r^2 - rh^2)/(R^2 - rh^2).

    u is uniform in area, so the fit is an ordinary least-squares line in u. 0 where nothing is removed.
    """
    low, high = turning.contact.hole_radius_m, turning.contact.mirror_radius_m
    cuts = np.array([low, *sorted(r for r in turning.bends_m() if low < r < high), high])
    width = np.diff(cuts)[:, None]
    radii = (cuts[:-1, None] + width * ((3 * _NODES - _NODES**3) / 4 + 0.5)).ravel()
    weights = (width * 0.75 * (1 - _NODES**2) * _WEIGHTS).ravel() * radii
    weights = weights / weights.sum()
    rates = turning.rate(radii)
    mean = float(weights @ rates)
    if not mean > 0.0:
        return 0.0
    place = (radii**2 - low**2) / (high**2 - low**2) - 0.5
    return 12.0 * float(weights @ (rates * place)) / mean


def sweep(case: Case, offsets_m: Sequence[float]) -> list[OffsetPoint]:
    """Survey of several offsets; those at which the lap misses the glass or topples are left out."""
    found = []
    for offset in offsets_m:
        try:
            found.append(at_offset(case, offset))
        except BadInput:
            continue
    return found


def sweep_around(case: Case, offset_m: float) -> list[OffsetPoint]:
    """Survey from 0.1 R inside an offset to 0.1 R outside it, in steps of 0.01 R."""
    step = STEP_OF_RADIUS * case.contact.mirror_radius_m
    offsets = (offset_m + step * i for i in range(-SWEEP_STEPS, SWEEP_STEPS + 1))
    return sweep(case, [offset for offset in offsets if offset >= 0.0])


def best_offsets(case: Case) -> BestOffsets:
    """The most even and the neutral offset to 0.01 mm on a 0.5 m mirror, and where the face first lifts."""
    radius, lap = case.contact.mirror_radius_m, case.contact.lap_radius_m
    step = 0.04 * radius
    points = sweep(case, [step * i for i in range(1, math.ceil((radius + lap) / step))])
    scored = [point for point in points if point.cv is not None]
    if not scored:
        raise BadInput("post_offset_m: the lap can lie on this mirror at no offset; check both diameters")
    coarse = min(scored, key=lambda point: point.cv or 0.0)
    best = _least(lambda offset: _cv(case, offset), coarse.offset_m - step, coarse.offset_m + step)
    return BestOffsets(at_offset(case, best), _neutral(case, points, best), _first_lift(case, points))


def _cv(case: Case, offset: float) -> float:
    try:
        return at_offset(case, offset).cv or math.inf
    except BadInput:
        return math.inf


def _least(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a function with one valley between the bounds is least, by golden section."""
    tolerance = 2e-5 * high
    inner, outer = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_inner, at_outer = function(inner), function(outer)
    while high - low > tolerance:
        if at_inner < at_outer:
            high, outer, at_outer = outer, inner, at_inner
            inner = high - _GOLDEN * (high - low)
            at_inner = function(inner)
        else:
            low, inner, at_inner = inner, outer, at_outer
            outer = low + _GOLDEN * (high - low)
            at_outer = function(outer)
    return (low + high) / 2


def _neutral(case: Case, points: Sequence[OffsetPoint], near_m: float) -> OffsetPoint | None:
    """Where the tendency rises through 0, nearest to an offset."""
    pairs = [(a, b) for a, b in pairwise(points) if a.curve_tendency < 0.0 <= b.curve_tendency]
    if not pairs:
        return None
    a, b = min(pairs, key=lambda pair: abs(pair[0].offset_m + pair[1].offset_m - 2 * near_m))
    low, high = a.offset_m, b.offset_m
    while high - low > 1e-5 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if at_offset(case, middle).curve_tendency < 0.0 else (low, middle)
    return at_offset(case, (low + high) / 2)


def _first_lift(case: Case, points: Sequence[OffsetPoint]) -> float | None:
    """Least offset at which part of the face carries nothing: 0 if it always lifts, None if never."""
    lifted = next((i for i, point in enumerate(points) if point.face_lifted), None)
    if lifted is None:
        return None
    low, high = points[lifted - 1].offset_m if lifted else 0.0, points[lifted].offset_m
    while high - low > 1e-5 * case.contact.mirror_radius_m:
        middle = (low + high) / 2
        low, high = (low, middle) if at_offset(case, middle).face_lifted else (middle, high)
    return high if low > 0.0 else 0.0
