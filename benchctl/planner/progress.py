"""How much is left in each ring: depth and segments, each as a range, and whether one can tell at all.

The work done (by the mechanics, ring by ring) is laid beside what was seen, and every truth that explains
both is kept by how well it does. What is left is then a range over those truths: 10 of 100 are below the
first figure and 10 above the last. "Cannot tell yet" while the last is over three times the first and not
soon. A ring is finished only when no pit was found, the laser's spot is gone and the truths agree; never by
grey alone.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import asdict, dataclass
from functools import cached_property

import numpy as np

from benchctl.models.job import Job
from benchctl.planner.depth import RINGS, Rings, ZoneDepths
from benchctl.planner.history import Done, History
from benchctl.planner.pace import lengths, stretch_ends, to_come, wander
from benchctl.planner.particles import PARTICLES, settle
from benchctl.planner.pits import Array
from benchctl.planner.scores import gather
from benchctl.planner.truths import PRESTON_SPREAD, SIZE, Prior, named

QUANTILES = (10.0, 50.0, 90.0)
SIGMAS = 1.2816
"""From the middle of a normal law to where 90 of 100 lie below (standard table)."""
WIDE = 3.0
"""The 90 % figure over this many times the 10 % one: cannot tell yet."""
SOON = 2.0
"""Segments: a 90 % figure below this tells enough, whatever the 10 % one (judgement)."""
SURE = 0.98
"""How many of the truths must hold a ring for clear before it is called finished."""
FIELDS_CLEAR = 2
"""Fewest fields of the loupe without a pit, in the last look, for a ring to be called finished."""
END_SPREAD, END_DEEPER = 0.015, 0.005
"""Of the depth at which a ring is clear, beside the law that is fitted: by spot, and deeper for the pits of a
few oversize grains (judgement: the law's last tenth can be seen by no count)."""
NEVER = 999.0
"""Segments that are said of a ring which the lap does not reach as it is set up."""
ZONES = RINGS - 1


@dataclass(frozen=True)
class Range:
    """10, 50 and 90 of 100 truths lie below these."""

    low: float
    likely: float
    high: float

    @property
    def tells(self) -> bool:
        """Whether the range is narrow enough to act on; what is surely soon is."""
        return self.high <= SOON or self.high <= WIDE * self.low

    def as_list(self) -> list[float]:
        return [self.low, self.likely, self.high]


@dataclass(frozen=True)
class Settings:
    """What the segments to come are polished with."""

    load_n: float
    post_offset_m: float
    spin_ratio: float | None
    useful_turns: float


def settings_of(job: Job, history: History) -> Settings:
    """As the last segment stood, with the job's length; before the first, as the job says."""
    turns = job.segment.work_rpm * job.segment.length_s / 60
    if not history.segments:
        return Settings(job.load_n, job.setup.post_offset_m, None, turns)
    last = history.segments[-1]
    full = [one.useful_turns for one in history.segments[-5:] if one.useful_turns > 0.5 * turns]
    spins = [one.spin_ratio for one in history.segments[-5:] if one.spin_ratio is not None]
    return Settings(
        last.load_n,
        last.post_offset_m,
        float(np.median(spins)) if spins else None,
        float(np.median(full)) if full else turns,
    )


class Reckoning:
    """The truths that explain the work and the looks of one mirror, and what they say is left.

    `prior` is what is taken for likely before; by default the job's Preston coefficient with the spread of a
    table's value; `depths` may be shared by the reckonings of one job. The same history, the same answer.
    """

    def __init__(
        self, job: Job, history: History, prior: Prior | None = None, depths: ZoneDepths | None = None
    ) -> None:
        self.job, self.history = job, history
        self.depths = depths or ZoneDepths(job)
        self.prior = prior or Prior(job.preston_per_pa, PRESTON_SPREAD, job.mirror.last_abrasive_m)
        self.settings = settings_of(job, history)
        self.by_segment = np.array([self._depth(one) for one in history.segments]).reshape(-1, RINGS)
        """Depth by segment and ring as the mechanics have it, at the job's Preston coefficient, metres."""
        self._ends = stretch_ends((look.after for look in history.looks), history.done)
        cloud = self._cloud()
        self.truths = named(cloud[:, :SIZE], self.prior)
        self._paces = wander(cloud[:, SIZE:], self._ends)
        luck = np.random.Generator(np.random.PCG64(1927))
        self._end = 1.0 + END_DEEPER + END_SPREAD * luck.standard_normal((PARTICLES, RINGS))
        self.pace = self._pace_to_come(luck)
        """Of the segments to come, a value a particle (in a column)."""

    def _depth(self, one: Done) -> Rings:
        return self.depths.segment(
            load_n=one.load_n,
            post_offset_m=one.post_offset_m,
            spin_ratio=one.spin_ratio,
            useful_turns=one.useful_turns,
        )

    def _cloud(self) -> Array:
        scores = gather(self.history.looks)
        work = np.array([part.sum(axis=0) for part in np.split(self.by_segment, self._ends[:-1])])
        places = [bisect_left([0, *self._ends], look.after) for look in self.history.looks]

        def fit(cloud: Array) -> Array:
            if not scores.any:
                return np.zeros(len(cloud))
            truths = named(cloud[:, :SIZE], self.prior)
            paces = wander(cloud[:, SIZE:], self._ends)
            taken = truths.depth_m(work, self.job.preston_per_pa) * np.exp(paces)[:, :, None]
            sums = np.cumsum(np.pad(taken, ((0, 0), (1, 0), (0, 0))), axis=1)
            return scores.log_likelihood(truths, sums[:, places])

        return settle(fit, SIZE + len(self._ends))

    def _pace_to_come(self, luck: np.random.Generator) -> Array:
        """Mean pace until the last zone is clear, about where the pace is now."""
        now = self._paces[:, -1] if self._ends else np.zeros(PARTICLES)
        last = np.median(_segments(self.left_m, self.depth_each(self.settings))[:, :ZONES].max(axis=1))
        return to_come(now, float(last), luck)[:, None]

    @cached_property
    def taken_m(self) -> Array:
        """Depth that each segment took, particles x segments x rings, metres."""
        paces = np.repeat(np.exp(self._paces), lengths(self._ends), axis=1)
        depths = self.truths.depth_m(self.by_segment, self.job.preston_per_pa)
        return np.asarray(depths * paces[:, :, None])

    @cached_property
    def left_m(self) -> Array:
        """Depth left, particles x rings, 0 where clear."""
        clear = self.truths.clear_m[:, None] * self._end
        return np.asarray(np.maximum(clear - self.taken_m.sum(axis=1), 0.0))

    def segments_left(self, settings: Settings | None = None, left_m: Array | None = None) -> Array:
        """Segments left with these settings (default: as they stand), particles x rings."""
        each = self.depth_each(settings or self.settings)
        return _segments(self.left_m if left_m is None else left_m, each * self.pace)

    def depth_each(self, settings: Settings) -> Array:
        """Depth that a segment takes, particles x rings, metres."""
        return self.truths.depth_m(self.model_depth(settings), self.job.preston_per_pa)

    def model_depth(self, settings: Settings) -> Array:
        """Depth that a segment takes by ring as the mechanics have it, metres."""
        return np.array(self.depths.segment(**asdict(settings)))

    def finished(self) -> list[bool]:
        """By ring, whether it may be called finished: pits and spot of the last look, and the truths."""
        if not self.history.looks:
            return [False] * RINGS
        clear = (self.left_m <= 0.0).mean(axis=0)
        last = self.history.looks[-1]
        if last.after != self.history.done:
            return [False] * RINGS
        return [
            ring.laser_spot == 0
            and len(ring.pits or ()) >= FIELDS_CLEAR
            and all(count == 0 for count in ring.pits or ("none",))
            and share >= SURE
            for ring, share in zip(last.rings, clear, strict=True)
        ]


def _segments(left_m: Array, each_m: Array) -> Array:
    """Segments that a depth takes, NEVER at most."""
    return np.asarray(np.minimum(left_m / np.maximum(each_m, 1e-15), NEVER))


def ranges(values: Array) -> list[Range]:
    """10, 50, 90 % by column."""
    return [Range(*(float(one) for one in column)) for column in np.percentile(values, QUANTILES, axis=0).T]
