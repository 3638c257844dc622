"""The watcher's figures against outside references: a closed form, and the change points of `ruptures`."""

from __future__ import annotations

import math

import numpy as np
import pytest
import ruptures

from benchctl.lapwatch import LapWatch
from benchctl.lapwatch.geometry import LoadPrediction
from benchctl.lapwatch.reading import Gap, Reading
from benchctl.lapwatch.spin import once_a_turn, severity, variation
from tests.lapwatch.spins import Spin, settings


@pytest.mark.parametrize("amplitude", [0.1, 0.3, 0.62])
def test_severity_of_a_sine(amplitude: float) -> None:
    """A sine of amplitude a has severity a, variation a / sqrt 2 and once-per-turn part a (closed form)."""
    count, turns = 60, 1
    reading = Reading(0.0, 0, 0.0)
    for k in range(count * turns):
        lap = (k + 1) / count
        ratio = 0.7 * (1.0 + amplitude * math.cos(2.0 * math.pi * (lap - 0.5 / count)))
        reading.recent.append(Gap(reading.recent[-1].turns + 1.0 / count / ratio, lap, ratio))
    assert severity(reading) == pytest.approx(amplitude, rel=0.01)
    assert variation(reading) == pytest.approx(amplitude / math.sqrt(2.0), rel=0.01)
    assert once_a_turn(reading, count) == pytest.approx(amplitude, rel=0.01)


def test_load_jump_in_step_and_in_full_contact() -> None:
    """From a lap in step to a stopped one, table torque rises from e to the mean radius of the contact.

    Both in units of friction coefficient x load; the mean radius comes from SciPy's quadrature.
    """
    from scipy.integrate import dblquad

    offset, lap = 0.06, 0.12
    total, _ = dblquad(
        lambda rho, phi: rho * math.hypot(rho * math.cos(phi) + offset, rho * math.sin(phi)),
        0.0, 2.0 * math.pi, 0.0, lap,
    )  # fmt: skip
    expected = total / (math.pi * lap**2) / offset - 1.0
    assert LoadPrediction(0.25, lap, offset, 0.0).jump(1.0) == pytest.approx(expected, rel=0.01)


def test_change_point_of_a_recorded_trace() -> None:
    """On a recorded spin that loses 40 % at once, `ruptures` (PELT) finds the change before the alarm."""
    spin = Spin(LapWatch(settings()), lambda t, lap: 0.8 if t < 50.0 else 0.48)
    times: list[float] = []
    pulse = spin.watch.pulse

    def recorded(at_s: float) -> None:
        times.append(at_s)
        pulse(at_s)

    spin.watch.pulse = recorded  # type: ignore[method-assign]
    spin.run(70.0)
    gaps = np.log(np.diff(times))
    breaks = ruptures.Pelt(model="l2", min_size=6).fit(gaps).predict(pen=0.5)
    found = times[breaks[0]]
    alarm = next(at_s for at_s, state in spin.states if state in ("slowing", "stalled"))
    assert found == pytest.approx(50.0, abs=0.9)
    assert 0.0 < alarm - found < 3.5
