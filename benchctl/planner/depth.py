"""Depth a segment took from each zone, by the mechanics: the work done, zone by zone.

Preston's law over the contact (`benchctl.physics`), at the load, the offset and the spin ratio of the
segment, times its useful turns. Depth a turn depends on neither the speed nor the lap's size (Preston 1927,
from memory; derived in docs/physics.md), so load x offset x turns x spin is the counter of work.
The five zones are rings of equal width from the hole to the rim; a sixth figure is the last 5 mm, where the
mechanics are only indicative.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from benchctl.models.inspection import EDGE_WIDTH_M
from benchctl.models.job import Job
from benchctl.physics.case import Case
from benchctl.physics.evenness import survey
from benchctl.physics.solve import Steady, steady_state
from benchctl.planner.case_of import case_of, moved
from benchctl.planner.sweet_spot import turning_of

RINGS = 6
"""The five zones and the last 5 mm."""
RING_NAMES = ("1", "2", "3", "4", "5", "edge")
_EDGE_RADII = 5
_OFFSET_STEP_M, _SPIN_STEP = 1e-4, 0.005
"""Contacts nearer to each other than these are taken as one: a tenth of a millimetre, half a per cent."""

Rings = tuple[float, float, float, float, float, float]


class ZoneDepths:
    """Depth by ring for segments of one job. Contacts already solved are kept."""

    def __init__(self, job: Job) -> None:
        self.case = case_of(job)
        self._steady = lru_cache(maxsize=None)(self._solve)
        self._rates = lru_cache(maxsize=None)(self._survey)

    def per_turn(self, load_n: float, post_offset_m: float, spin_ratio: float | None = None) -> Rings:
        """Metres that one turn of the table takes from each ring; without a spin ratio, at the predicted one.

        A load shares itself over the face the same way whatever its size, so depth goes with it. BadInput
        where the lap misses the glass.
        """
        place = round(post_offset_m / _OFFSET_STEP_M)
        spin = self.spin_ratio(post_offset_m) if spin_ratio is None else spin_ratio
        scale = load_n / self.case.load_n * 2 * math.pi / self.case.table_rad_s
        return _rings(scale * rate for rate in self._rates(place, round(spin / _SPIN_STEP)))

    def segment(
        self, *, load_n: float, post_offset_m: float, spin_ratio: float | None, useful_turns: float
    ) -> Rings:
        """Metres that a segment took from each ring."""
        per_turn = self.per_turn(load_n, post_offset_m, spin_ratio)
        return _rings(useful_turns * depth for depth in per_turn)

    def spin_ratio(self, post_offset_m: float) -> float:
        """The spin ratio that the mechanics predict with the job's own drag at the post."""
        return self._steady(round(post_offset_m / _OFFSET_STEP_M)).spin_ratio

    def lifts(self, post_offset_m: float) -> bool:
        """Whether part of the lap's face carries nothing with the post there."""
        return self._steady(round(post_offset_m / _OFFSET_STEP_M)).pressure.lifted

    def _at(self, place: int) -> Case:
        return moved(self.case, place * _OFFSET_STEP_M)

    def _solve(self, place: int) -> Steady:
        return steady_state(self._at(place))

    def _survey(self, place: int, spin: int) -> Rings:
        case = self._at(place)
        turning = turning_of(case, self._steady(place), spin * _SPIN_STEP)
        rim = case.contact.mirror_radius_m
        radii = np.linspace(max(case.contact.hole_radius_m, rim - EDGE_WIDTH_M), rim, 2 * _EDGE_RADII + 1)
        found = survey(turning, radii[1::2])
        return _rings((*found.zone_rates_m_per_s, float(found.rates_m_per_s.mean())))


def zone_depths_m(
    job: Job, *, load_n: float, post_offset_m: float, spin_ratio: float | None, useful_turns: float
) -> Rings:
    """Metres that one segment took from zones 1 to 5 and the last 5 mm, with the job's Preston coefficient.

    Without a spin ratio, at the predicted one. BadInput where the lap misses the glass.
    """
    return ZoneDepths(job).segment(
        load_n=load_n, post_offset_m=post_offset_m, spin_ratio=spin_ratio, useful_turns=useful_turns
    )


def _rings(values: Iterable[float]) -> Rings:
    first, second, third, fourth, fifth, edge = values
    return first, second, third, fourth, fifth, edge
