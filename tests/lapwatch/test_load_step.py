"""The filter that tells a step of the load from its drift, against the exact Gaussian likelihoods."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from benchctl.lapwatch.load_step import DRIFT2_PER_S, StepFilter

REPORT_S, WHITE = 0.05, 0.02
LEVEL = 40.0


def loads(seed: int, reports: int, step: float = 0.0, from_report: int = 0) -> list[float]:
    """A load that drifts like a random walk under white noise, a step of this share added on the way."""
    rng = np.random.default_rng(seed)
    drift = np.cumsum(rng.normal(0.0, math.sqrt(DRIFT2_PER_S * REPORT_S), reports))
    noise = rng.normal(0.0, WHITE, reports)
    after = np.arange(reports) >= from_report
    return list(LEVEL * (1.0 + drift + noise + step * after))


def settled(seed: int) -> tuple[StepFilter, list[float]]:
    """A filter that has watched 200 gaps of 20 reports, and what it was given."""
    given = loads(seed, 4000)
    watch = StepFilter()
    for number, load in enumerate(given):
        if number % 20 == 0 and number:
            watch.target_passed(True, REPORT_S, WHITE**2)
        watch.report(load)
    watch.target_passed(True, REPORT_S, WHITE**2)
    return watch, given


def level_of(given: list[float]) -> float:
    """The level at the end."""
    return float(np.mean(given[-40:]))


def exact(before: list[float], wait: list[float], step: float) -> float:
    """Log-likelihood ratio of a step at the wait's first report by the joint normal law (SciPy)."""
    series = np.array([*before, *wait]) / LEVEL - 1.0
    n = series.size
    walk = DRIFT2_PER_S * REPORT_S * (np.minimum.outer(np.arange(n), np.arange(n)) + 1.0)
    law = multivariate_normal(cov=walk + WHITE**2 * np.eye(n) + 1.0)
    risen = np.where(np.arange(n) >= len(before), step, 0.0)
    return float(law.logpdf(series - risen) - law.logpdf(series))


@pytest.mark.parametrize("step", [0.03, 0.06, 0.12])
def test_the_odds_of_a_step_are_the_exact_ones(step: float) -> None:
    """Of a step known to lie at the wait's first report the odds, in the mean, are exact or a third less.

    Outside reference: the joint normal density of SciPy, with the last 150 reports before the wait. Less,
    because the filter takes the larger of two measured variances and clips each report.
    """
    ours = true = 0.0
    for seed in range(8):
        watch, given = settled(seed)
        wait = [load - LEVEL + level_of(given) * (1.0 + step) for load in loads(100 + seed, 40)]
        for load in wait:
            watch.report(load)
        ours += watch.nats(step, 0)
        true += exact(given[-150:], wait, step)
    assert 0.67 * true < ours < 1.05 * true


def test_without_a_step_the_odds_seldom_speak_for_one() -> None:
    """Among 400 waits of a drifting load the odds pass 4 nats in no more than 1 in 40, as a ratio of
    likelihoods must: it passes e^x with a chance of at most e^-x (Markov's inequality), here 1 in 55."""
    passed = 0
    for seed in range(400):
        watch = StepFilter()
        for number, load in enumerate(loads(seed, 460)):
            if number % 20 == 0 and number <= 400:
                watch.target_passed(True, REPORT_S, WHITE**2)
            watch.report(load)
        passed += watch.nats(0.05, 20) > 4.0
    assert passed <= 10


def test_one_glitch_is_no_step() -> None:
    """A single report far off does not count: a step must show in two."""
    watch, given = settled(1)
    for _ in range(5):
        watch.report(level_of(given))
    watch.report(1.3 * level_of(given))
    assert watch.nats(0.2, 100) < 0.0
    watch.report(1.3 * level_of(given))
    watch.report(1.3 * level_of(given))
    assert watch.nats(0.2, 100) > 4.0


def test_odds_are_none_without_reports() -> None:
    """Before two reports of a wait have come nothing is known."""
    watch, _ = settled(1)
    assert watch.nats(0.2, 100) == 0.0
    watch.report(2.0 * LEVEL)
    assert watch.nats(0.2, 100) == 0.0
