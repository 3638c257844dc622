"""The person's own Preston coefficient, carried from mirror to mirror of the same glass and compound.

A mirror tells how fast its pits went, which is the coefficient over the depth of damage; the depth is only
known within a factor of 1.45, so one mirror narrows the coefficient a little and several narrow it more. What
one mirror left as a range is what the next begins with, a little wider: lap, room and batch differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from benchctl.models.job import Job
from benchctl.planner.history import History
from benchctl.planner.progress import SIGMAS, Reckoning
from benchctl.planner.truths import PRESTON_SPREAD, Prior

BETWEEN_MIRRORS = 0.12
"""One sigma that is added from one mirror to the next (judgement)."""


def first_prior(job: Job) -> Prior:
    """What is taken for likely without a log: the job's coefficient and a table's spread."""
    return Prior(job.preston_per_pa, PRESTON_SPREAD, job.mirror.last_abrasive_m)


def next_prior(reckoning: Reckoning, abrasive_m: float) -> Prior:
    """What a mirror leaves to the next: middle and spread of its coefficient, never wider than a table's."""
    logs = np.log(reckoning.truths.preston_per_pa)
    low, high = np.percentile(logs, (10.0, 90.0))
    spread = math.hypot(float(high - low) / (2 * SIGMAS), BETWEEN_MIRRORS)
    return Prior(math.exp(float(np.median(logs))), min(spread, PRESTON_SPREAD), abrasive_m)


def carried(job: Job, earlier: Sequence[tuple[Job, History]]) -> Prior:
    """The prior of a job after earlier mirrors, oldest first; mirrors nobody looked at say nothing.

    The earlier jobs must be of the same glass and compound; which are is for the caller to know.
    """
    prior = first_prior(job)
    for other, history in earlier:
        if history.looks and history.segments:
            start = Prior(prior.preston_per_pa, prior.preston_spread, other.mirror.last_abrasive_m)
            prior = next_prior(Reckoning(other, history, start), job.mirror.last_abrasive_m)
    return prior
