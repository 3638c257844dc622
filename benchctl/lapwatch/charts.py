"""The arithmetic of the control charts, and limits that follow from a budget of false alarms.

CUSUM after Page, EWMA after Roberts; both checked against published average run lengths in
tests/published/test_chart_run_lengths.py.
"""

from __future__ import annotations

import math
from statistics import NormalDist

HOURS_BETWEEN_FALSE_ALARMS = 600.0
"""Budget of one detector; five together: one false alarm in 120 hours, if samples were independent."""


def cusum(total: float, score: float) -> float:
    """The sum after one more score, never below 0: S = max(0, S + score)."""
    total += score
    return total if total > 0.0 else 0.0


def ewma(mean: float, value: float, weight: float) -> float:
    """The exponentially weighted mean after one more value: E = E + weight (value - E)."""
    return mean + weight * (value - mean)


def ewma_spread(weight: float) -> float:
    """Standard deviation of the settled EWMA of independent values of standard deviation 1."""
    return math.sqrt(weight / (2.0 - weight))


def spread_score(z: float, times: float) -> float:
    """Log-likelihood ratio, in nats, of a spread grown by the factor `times` against 1, for a value z."""
    return 0.5 * z * z * (1.0 - 1.0 / (times * times)) - math.log(times)


def shift_score(z: float, shift: float) -> float:
    """Log-likelihood ratio, in nats, of a mean of `shift` against 0, for a value z of spread 1."""
    return shift * (z - 0.5 * shift)


def likelihood_limit(samples_between_alarms: float) -> float:
    """Limit, in nats, for a CUSUM of log-likelihood ratios: ln of the mean number of samples between alarms.

    A lower bound of the run length without a change (Lorden 1971, from memory), so the true one is longer.
    """
    return math.log(max(samples_between_alarms, 2.0))


def normal_limit(samples_between_alarms: float) -> float:
    """Limit, in standard deviations, that one normal value passes on one side once in so many samples."""
    return NormalDist().inv_cdf(1.0 - 1.0 / max(samples_between_alarms, 3.0))
