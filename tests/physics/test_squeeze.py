"""Squeeze flow of pitch against other ways to the same figure."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from benchctl.errors import BadInput
from benchctl.physics.squeeze import pitch_viscosity_pa_s, settled_m


def test_the_rate_is_that_of_reynolds_equation() -> None:
    """The load on a disc from the parabola of pressure of lubrication theory, summed by quadrature (SciPy).

    Reynolds' equation for two discs that approach at V gives p(r) = 3 eta V (s^2 - r^2)/h^3 (textbook; from
    memory); its integral over the disc must be the load that was put on.
    """
    h, s, pressure, eta = 6e-3, 15e-3, 5e3, 1e8
    dt = 1e-3
    speed = settled_m(h, s, pressure, eta, dt) / dt
    load, _ = integrate.quad(lambda r: 3 * eta * speed * (s**2 - r**2) / h**3 * 2 * math.pi * r, 0.0, s)
    assert load == pytest.approx(pressure * math.pi * s**2, rel=1e-6)
    assert speed == pytest.approx(32e-9, rel=0.01)


@given(
    st.floats(1e-3, 2e-2),
    st.floats(5e-3, 5e-2),
    st.floats(1e2, 2e4),
    st.floats(6.5, 9.5),
    st.floats(1.0, 2e4),
)
def test_the_whole_flow_is_the_sum_of_its_rate(
    h: float, s: float, pressure: float, decades: float, duration: float
) -> None:
    """Integrated step by step (SciPy's LSODA), dh/dt gives what the closed form says."""
    eta = 10.0**decades
    solved = integrate.solve_ivp(
        lambda _, y: -2 * pressure * y**3 / (3 * eta * s**2),
        (0.0, duration),
        [h],
        method="LSODA",
        rtol=1e-9,
        atol=1e-15,
    )
    left = solved.y[0][-1]
    assert h - settled_m(h, s, pressure, eta, duration) == pytest.approx(left, rel=1e-5)


def test_three_kelvin_warmer_is_about_three_times_softer() -> None:
    """0.15 decades a kelvin (from memory; 0.1 to 0.2)."""
    assert pitch_viscosity_pa_s(20.0) / pitch_viscosity_pa_s(23.0) == pytest.approx(2.8, abs=0.05)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_impossible_figures_are_refused(bad: float) -> None:
    """No thickness, no width, no viscosity: no answer."""
    for place in (0, 1, 3):
        figures = [6e-3, 15e-3, 5e3, 1e8, 60.0]
        figures[place] = bad
        with pytest.raises(BadInput):
            settled_m(*figures)


def test_no_time_or_no_load_moves_nothing() -> None:
    """Zero stays zero."""
    assert settled_m(6e-3, 15e-3, 0.0, 1e8, 60.0) == 0.0
    assert settled_m(6e-3, 15e-3, 5e3, 1e8, 0.0) == 0.0
