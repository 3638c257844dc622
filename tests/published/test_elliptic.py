"""Elliptic integrals against SciPy's and against values and identities of DLMF chapter 19."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipeinc, ellipkinc

from benchctl.physics.elliptic import elliptic_fe
from benchctl.physics.removal import speed_integrals


def both(angle: float, m: float) -> tuple[float, float]:
    """F and E at one amplitude and parameter."""
    sine = np.array([math.sin(angle)])
    first, second = elliptic_fe(sine, np.array([math.cos(angle) ** 2]), 1 - m * sine**2, np.array([m]))
    return float(first[0]), float(second[0])


@given(st.floats(0.0, math.pi / 2), st.floats(0.0, 0.999999))
def test_first_and_second_kind_agree_with_scipy(angle: float, m: float) -> None:
    """F and E agree with scipy.special.ellipkinc and ellipeinc to 1e-13, amplitude 0 to pi/2."""
    first, second = both(angle, m)
    assert first == pytest.approx(float(ellipkinc(angle, m)), rel=1e-13, abs=1e-300)
    assert second == pytest.approx(float(ellipeinc(angle, m)), rel=1e-13, abs=1e-300)


def test_complete_integrals_satisfy_legendres_relation() -> None:
    """E K' + E' K - K K' = pi/2 (DLMF 19.7.1; number from memory), at several parameters."""
    for m in (0.01, 0.3, 0.5, 0.9, 0.999):
        (k, e), (k1, e1) = both(math.pi / 2, m), both(math.pi / 2, 1 - m)
        assert e * k1 + e1 * k - k * k1 == pytest.approx(math.pi / 2, rel=1e-13)


def test_known_values() -> None:
    """K(0) = E(0) = pi/2, E(1) = 1, K(1/2) = Gamma(1/4)^2/(4 sqrt pi) (DLMF 19.6; from memory)."""
    assert both(math.pi / 2, 0.0) == pytest.approx((math.pi / 2, math.pi / 2), rel=1e-14)
    assert both(math.pi / 2, 1.0)[1] == pytest.approx(1.0, rel=1e-14)
    assert both(math.pi / 2, 0.5)[0] == pytest.approx(
        math.gamma(0.25) ** 2 / (4 * math.sqrt(math.pi)), rel=1e-14
    )


@pytest.mark.parametrize("turning", [-3.0, -1.0, -0.5, -0.2, 0.0, 0.1, 0.5, 0.999, 1.0, 1.3, 8.0])
@pytest.mark.parametrize(("first", "last"), [(0.0, math.pi), (0.0, 1.2), (0.7, 2.9), (2.0, math.pi)])
def test_speed_over_an_arc_agrees_with_scipys_quad(turning: float, first: float, last: float) -> None:
    """The integrals of the rubbing speed along an arc agree with scipy.integrate.quad to 1e-9."""
    ends = np.array([first]), np.array([last])
    found = speed_integrals(np.array([turning]), 1.0, *ends)
    for weight, value in zip((lambda _: 1.0, math.cos, math.sin), found, strict=True):

        def density(phi: float, weight: object = weight) -> float:
            gap = (abs(turning) - 1.0) ** 2
            from_slow = math.cos(phi / 2) if turning >= 0 else math.sin(phi / 2)
            return weight(phi) * math.sqrt(gap + 4 * abs(turning) * from_slow**2)  # type: ignore[operator]

        expected, _ = quad(density, first, last, epsabs=1e-12, epsrel=1e-12, limit=200)
        assert float(value[0]) == pytest.approx(expected, rel=1e-9, abs=1e-9)
