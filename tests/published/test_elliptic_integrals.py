"""Elliptic integrals against SciPy and against the identities of DLMF chapter 19 (from memory)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc, gamma

from benchctl.physics.elliptic import elliptic_fe

Array = NDArray[np.float64]


def of(phi: float | Array, m: float | Array) -> tuple[Array, Array]:
    """F(phi|m) and E(phi|m) as the program computes them."""
    angle, parameter = np.broadcast_arrays(np.atleast_1d(phi).astype(float), np.atleast_1d(m).astype(float))
    sine, cosine = np.sin(angle), np.cos(angle) ** 2
    return elliptic_fe(sine, cosine, cosine + (1 - parameter) * sine**2, parameter)


def test_incomplete_integrals_are_scipys() -> None:
    """F and E agree with SciPy's over the whole range of angle and parameter."""
    phi, m = (grid.ravel() for grid in np.meshgrid(np.linspace(0.01, 1.55, 24), np.linspace(0.0, 0.999, 24)))
    first, second = of(phi, m)

    assert first == pytest.approx(ellipkinc(phi, m), rel=1e-12)
    assert second == pytest.approx(ellipeinc(phi, m), rel=1e-12)


@pytest.mark.parametrize("m", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_complete_integrals(m: float) -> None:
    """At a quarter turn they are the complete integrals K and E."""
    first, second = of(math.pi / 2, m)

    assert (first[0], second[0]) == pytest.approx((ellipk(m), ellipe(m)), rel=1e-12)


@pytest.mark.parametrize("m", [0.05, 0.3, 0.5, 0.8])
def test_legendres_relation(m: float) -> None:
    """E K' + E' K - K K' = pi/2 (DLMF 19.7.1)."""
    (k, e), (k1, e1) = (tuple(value[0] for value in of(math.pi / 2, p)) for p in (m, 1 - m))

    assert e * k1 + e1 * k - k * k1 == pytest.approx(math.pi / 2, rel=1e-13)


def test_lemniscate() -> None:
    """K at m = 1/2 is Gamma(1/4)^2/(4 sqrt(pi)) (DLMF 23.5, lemniscatic case)."""
    assert of(math.pi / 2, 0.5)[0][0] == pytest.approx(gamma(0.25) ** 2 / (4 * math.sqrt(math.pi)), rel=1e-14)
