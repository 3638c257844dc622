"""The gentler regime at the end: when to go slower and lighter, why, and what the gross regime would do now.

Near the end little glass is left to take, while what a segment can spoil stays the same: heat bows the mirror
(in proportion to load x speed), zones that are clear go on losing glass, the edge carries most pressure, and
polishing leaves damage of its own, 0.8 to 1.5 um with rough compound on pitch (a seventh to a fifth of the
grain; abstract read). So the compound is never made coarser now.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchctl.models.job import Job
from benchctl.physics.solve import answer
from benchctl.planner import bench_sums
from benchctl.planner.case_of import case_of
from benchctl.planner.progress import ZONES, Range, Reckoning
from benchctl.planner.what_if import last_of, range_of

GENTLER_LOAD, GENTLER_SPEED = 0.85, 0.8
"""Shares of the load and the speed in use; the segment is made longer, so that its turns stay (a choice)."""
DUE_HIGH = 3.0
"""Segments left of the last zone, in 90 of 100 truths fewer, from which the gentler regime is due."""
LEAST_LEFT = 0.5
"""With less than this left a change of regime is not worth the setting up (judgement)."""


@dataclass(frozen=True)
class Regime:
    """The gentler regime beside the gross one. Metres; `last` in segments of the present regime."""

    due: bool
    in_use: bool
    last: Range
    depth_gross_m: float
    depth_gentle_m: float
    left_m: Range
    bow_gross_m: float
    bow_gentle_m: float
    costs: Range
    """Segments that the gentler regime adds until the last zone is clear."""


def gentler_due(reckoning: Reckoning) -> bool:
    """Whether the last zone is surely near its end, and not yet there."""
    if not reckoning.history.looks:
        return False
    last = range_of(last_of(reckoning.segments_left()))
    return last.high <= DUE_HIGH and last.likely >= LEAST_LEFT


def is_gentle(reckoning: Reckoning) -> bool:
    """Whether the last segment was already lighter than the first ones by as much."""
    done = reckoning.history.segments
    if not done:
        return False
    usual = float(np.median([one.load_n for one in done]))
    return done[-1].load_n <= (1 + GENTLER_LOAD) / 2 * max(usual, reckoning.job.load_n)


def regime(reckoning: Reckoning) -> Regime:
    """Both regimes in figures."""
    last = last_of(reckoning.segments_left())
    depth = float(np.median(reckoning.depth_each(reckoning.settings)[:, :ZONES]))
    bow = _bow_m(reckoning.job)
    slowest = reckoning.left_m[:, :ZONES].max(axis=1)
    return Regime(
        due=gentler_due(reckoning),
        in_use=is_gentle(reckoning),
        last=range_of(last),
        depth_gross_m=depth,
        depth_gentle_m=GENTLER_LOAD * depth,
        left_m=range_of(slowest),
        bow_gross_m=bow,
        bow_gentle_m=GENTLER_LOAD * GENTLER_SPEED * bow,
        costs=range_of(last * (1 / GENTLER_LOAD - 1)),
    )


def _bow_m(job: Job) -> float:
    """Bow of the warmed face in one segment, an upper bound (`bench_sums.heat`)."""
    return float(bench_sums.heat(job, answer(case_of(job)))["bow_m"])


def why(found: Regime) -> list[str]:
    """What a person should know of it, a sentence each."""
    micron = 1e6
    if found.in_use:
        return ["The gentler regime is in use."]
    if found.last.likely < LEAST_LEFT:
        return ["The last zone is all but clear: a gentler regime would change nothing now."]
    sentences = [
        f"Slower and lighter ({GENTLER_LOAD:.0%} of the load, {GENTLER_SPEED:.0%} of the speed, the same "
        f"turns) {'is due now' if found.due else 'is not due yet'}: the last zone is {found.last.low:.1f} to "
        f"{found.last.high:.1f} segments from clear; it is due below {DUE_HIGH:g}.",
        f"It would add {found.costs.low:.1f} to {found.costs.high:.1f} segments.",
    ]
    if found.due:
        sentences += [
            f"The gross regime takes {micron * found.depth_gross_m:.2f} um a segment where "
            f"{micron * found.left_m.low:.2f} to {micron * found.left_m.high:.2f} um are left: zones that "
            "are clear lose glass for nothing and the figure goes with it.",
            f"It bows the face by up to {micron * found.bow_gross_m:.1f} um in a segment, the gentler one "
            f"by {micron * found.bow_gentle_m:.1f} um (upper bounds), and a scratch or a turned edge "
            "now costs the whole job.",
        ]
    return sentences
