"""The arithmetic of the charts against published average run lengths.

CUSUM: Lucas and Crosier, Technometrics 24 (1982) 199-205, as tabulated in textbooks; EWMA: Lucas and
Saccucci, Technometrics 32 (1990) 1-12. Both rows are from memory, not re-read; an integral equation solved
here (SciPy for the normal distribution) gives the same figures independently of the charts.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from benchctl.lapwatch.charts import (
    cusum,
    ewma,
    ewma_spread,
    likelihood_limit,
    normal_limit,
    shift_score,
    spread_score,
)

CUSUM_ARL = {4.0: {0.0: 168.0, 0.5: 26.6, 1.0: 8.38, 2.0: 3.34}, 5.0: {0.0: 465.0, 1.0: 10.4, 3.0: 2.57}}
EWMA_ARL = {(0.10, 2.814): {0.0: 500.0, 1.0: 10.3}, (0.25, 2.998): {0.0: 500.0, 0.5: 48.2, 1.0: 11.1}}


def two_sided_cusum(limit: float, shift: float, runs: int, rng: np.random.Generator) -> tuple[float, float]:
    """Mean run length, and its standard error, of the charts' own arithmetic with reference value 0.5."""
    lengths = []
    for _ in range(runs):
        up = down = 0.0
        count = 0
        while max(up, down) <= limit:
            z = rng.normal(shift)
            up, down, count = cusum(up, z - 0.5), cusum(down, -z - 0.5), count + 1
        lengths.append(count)
    return float(np.mean(lengths)), float(np.std(lengths) / np.sqrt(runs))


def ewma_runs(
    weight: float, limit: float, shift: float, runs: int, rng: np.random.Generator
) -> tuple[float, float]:
    """The same for the EWMA with settled limits."""
    edge = limit * ewma_spread(weight)
    lengths = []
    for _ in range(runs):
        mean, count = 0.0, 0
        while abs(mean) <= edge:
            mean, count = ewma(mean, rng.normal(shift), weight), count + 1
        lengths.append(count)
    return float(np.mean(lengths)), float(np.std(lengths) / np.sqrt(runs))


def ewma_by_integral(weight: float, limit: float, shift: float) -> float:
    """Mean run length of the EWMA from Crowder's integral equation on Gauss-Legendre nodes."""
    edge = limit * ewma_spread(weight)
    x, w = np.polynomial.legendre.leggauss(80)
    x, w = edge * x, edge * w
    kernel = norm.pdf((x[None, :] - (1.0 - weight) * x[:, None]) / weight - shift) / weight * w[None, :]
    runs = np.linalg.solve(np.eye(80) - kernel, np.ones(80))
    start = norm.pdf(x / weight - shift) / weight * w
    return float(1.0 + start @ runs)


@pytest.mark.parametrize("limit", CUSUM_ARL)
def test_cusum_run_lengths(limit: float) -> None:
    """The two-sided CUSUM has the published mean run lengths, within four standard errors."""
    rng = np.random.default_rng(1)
    for shift, published in CUSUM_ARL[limit].items():
        mean, error = two_sided_cusum(limit, shift, 400 if shift == 0.0 else 1500, rng)
        assert abs(mean - published) < 4.0 * error + 0.005 * published, (shift, mean, error)


@pytest.mark.parametrize("chart", EWMA_ARL)
def test_ewma_run_lengths(chart: tuple[float, float]) -> None:
    """The EWMA has the published mean run lengths, by integral equation and by its own steps."""
    rng = np.random.default_rng(2)
    for shift, published in EWMA_ARL[chart].items():
        assert ewma_by_integral(*chart, shift) == pytest.approx(published, rel=0.006)
        mean, error = ewma_runs(*chart, shift, 200 if shift == 0.0 else 1500, rng)
        assert abs(mean - published) < 4.0 * error + 0.01 * published, (shift, mean, error)


def test_scores_are_likelihood_ratios() -> None:
    """The scores are the log ratios of the normal densities that they say they are (SciPy)."""
    for z in (-2.5, 0.0, 0.7, 3.0):
        assert shift_score(z, 1.3) == pytest.approx(norm.logpdf(z, 1.3) - norm.logpdf(z))
        assert spread_score(z, 2.5) == pytest.approx(norm.logpdf(z, 0.0, 2.5) - norm.logpdf(z))


def test_limits_keep_the_budget() -> None:
    """A CUSUM of likelihood ratios at the limit for 500 samples runs longer than 500 without a change."""
    rng = np.random.default_rng(3)
    limit, lengths = likelihood_limit(500.0), []
    for _ in range(60):
        total, count = 0.0, 0
        while total <= limit:
            total, count = cusum(total, shift_score(rng.normal(), 1.0)), count + 1
        lengths.append(count)
    assert np.mean(lengths) > 500.0
    assert norm.sf(normal_limit(1e6)) == pytest.approx(1e-6, rel=1e-6)
