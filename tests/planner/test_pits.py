"""Pits left under polishing and the chance of a count, held against SciPy and the published shape."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import nbinom, poisson

from benchctl.planner.pits import (
    CLEAR_PITS,
    clear_part,
    counts_log_chance,
    share_left,
    too_many_log_chance,
)

ONE = np.array([1.0])


@pytest.mark.parametrize(
    ("length", "shares"),
    [
        (0.15, (1.0, 0.51, 0.26, 0.13, 0.07, 0.03, 0.02, 0.008, 0.004, 0.001, 0.0)),
        (0.27, (1.0, 0.68, 0.46, 0.31, 0.21, 0.14, 0.09, 0.05, 0.03, 0.01, 0.0)),
        (0.50, (1.0, 0.79, 0.62, 0.48, 0.36, 0.27, 0.19, 0.13, 0.08, 0.035, 0.0)),
    ],
)
def test_one_exponential_with_a_cut_off(length: float, shares: tuple[float, ...]) -> None:
    """With softness 1 the share left is the published law, tabled here in tenths of the cut-off depth.

    Law: one exponential with a cut-off (Suratwala et al. 2006, abstract read); the table was computed apart.
    """
    part = np.linspace(0.0, 1.0, 11)

    assert share_left(part, np.array(length), ONE) == pytest.approx(shares, abs=0.006)


def test_past_the_cut_off_nothing_is_left() -> None:
    """No pit is deeper than the cut-off."""
    assert share_left(np.array([1.0, 1.3]), np.array(0.27), ONE).tolist() == [0.0, 0.0]


@pytest.mark.parametrize("softness", [0.6, 1.0, 1.7])
def test_clear_is_where_one_field_in_ten_has_a_pit(softness: float) -> None:
    """The part at which a ring is clear is the root of pits x share = 0.1, by SciPy's root finder."""
    pits, length, soft = np.array([300.0]), np.array([0.3]), np.array([softness])

    def over(part: float) -> float:
        return float(pits[0] * share_left(np.array([part]), length, soft)[0]) - CLEAR_PITS

    assert clear_part(pits, length, soft)[0] == pytest.approx(brentq(over, 0.01, 1.0), abs=1e-9)


def chance_of(count: int, mean: float, shape: float) -> float:
    """ln of the chance of one count in one field."""
    one, tally = np.array([1.0]), np.zeros(51)
    tally[count] = 1.0
    return float(counts_log_chance(tally, one, count * one, mean * ONE[:, None], shape * one)[0])


def test_a_count_is_negative_binomial() -> None:
    """The chance of each count is SciPy's negative binomial with n = r, p = r/(r + m)."""
    counts = np.arange(51)
    for shape, mean in ((0.7, 3.0), (6.0, 0.03), (6.0, 40.0), (90.0, 12.0)):
        ours = [chance_of(int(count), mean, shape) for count in counts]

        assert ours == pytest.approx(nbinom.logpmf(counts, shape, shape / (shape + mean)), abs=1e-9)


def test_the_counts_of_all_places_are_summed_by_their_weights() -> None:
    """Two places, one with two fields of half a weight: SciPy's logarithms summed by those weights."""
    shape, mean = 4.0, np.array([[3.0, 11.0]])
    tally = np.zeros(51)
    np.add.at(tally, [2, 9, 14], [1.0, 0.5, 0.5])
    ours = counts_log_chance(tally, np.array([1.0, 1.0]), np.array([2.0, 11.5]), mean, np.array([shape]))
    logs = nbinom.logpmf([2, 9, 14], shape, shape / (shape + mean[0, [0, 1, 1]]))

    assert ours[0] == pytest.approx(float(logs @ [1.0, 0.5, 0.5]), abs=1e-9)


def test_without_clusters_it_is_poisson() -> None:
    """With a shape that grows without end the count is Poisson's."""
    assert chance_of(4, 5.0, 1e7) == pytest.approx(poisson.logpmf(4, 5.0), abs=1e-5)


def test_too_many_is_more_than_fifty() -> None:
    """The chance of 'too many' is SciPy's tail above 50, its logarithm within 0.06 down to e^-20."""
    luck = np.random.default_rng(1)
    shape = np.exp(luck.uniform(math.log(0.5), math.log(100.0), 200))
    mean = np.exp(luck.uniform(1.0, 7.0, (200, 5)))
    right = nbinom.logsf(50, shape[:, None], shape[:, None] / (shape[:, None] + mean))
    ours = too_many_log_chance(mean, shape)

    assert np.abs(ours - right)[right > -20].max() < 0.06


def test_what_is_counted_and_what_is_too_many_make_one() -> None:
    """The chances of 0 to 50 and of too many sum to 1."""
    for shape, mean in ((2.0, 60.0), (8.0, 45.0)):
        few = sum(math.exp(chance_of(count, mean, shape)) for count in range(51))
        many = np.exp(too_many_log_chance(np.array([[mean]]), np.array([shape])))[0, 0]

        assert few + many == pytest.approx(1.0, abs=0.02)
