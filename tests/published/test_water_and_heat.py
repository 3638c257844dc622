"""Water vapour, evaporation, warming and bow against published values and SciPy's solutions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from benchctl.errors import BadInput
from benchctl.physics import drying, heat

STEAM_TABLE = (
    (0.01, 611.66),
    (10.0, 1228.2),
    (20.0, 2339.3),
    (30.0, 4247.0),
    (40.0, 7384.9),
    (50.0, 12352.0),
)
"""Temperature (degrees C) and saturation pressure (Pa) over water: IAPWS steam tables (from memory)."""
ROOMS = (
    (18.0, 0.70, 0.10, 0.11),
    (21.0, 0.50, 0.10, 0.21),
    (21.0, 0.50, 0.65, 0.30),
    (24.0, 0.35, 0.65, 0.46),
    (28.0, 0.25, 0.65, 0.68),
)
"""Air (degrees C), humidity, air speed (m/s), evaporation (kg/m2/h): the screening formula, worked apart."""


@pytest.mark.parametrize(("temperature", "pressure"), STEAM_TABLE)
def test_saturation_pressure(temperature: float, pressure: float) -> None:
    """The vapour pressure is that of the steam tables within the 0.4 % claimed for the formula."""
    assert drying.saturation_pressure_pa(temperature) == pytest.approx(pressure, rel=4e-3)


@pytest.mark.parametrize(("temperature", "humidity", "speed", "rate"), ROOMS)
def test_evaporation_in_five_rooms(temperature: float, humidity: float, speed: float, rate: float) -> None:
    """Five rooms lose water as the table says."""
    assert drying.evaporation_kg_m2_s(temperature, humidity, speed) * 3600 == pytest.approx(rate, abs=6e-3)


def test_handbook_form_is_the_inch_one() -> None:
    """The handbook form in SI is (95 + 0.425 v)(pw - pa)/Y in lb/(h ft2), ft/min, inHg and Btu/lb (read)."""
    temperature, humidity, speed = 21.0, 0.5, 0.65
    full = drying.saturation_pressure_pa(temperature)
    inches = (full - humidity * full) / 3386.39
    inch_form = (95 + 0.425 * speed * 196.85) * inches / (drying.LATENT_HEAT_J_KG / 2326.0)
    to_si = 0.45359237 / 3600 / 0.09290304

    si_form = drying.evaporation_handbook_kg_m2_s(temperature, humidity, speed)
    assert si_form == pytest.approx(inch_form * to_si, rel=5e-3)


@pytest.mark.parametrize(("speed", "expected"), [(0.1, 0.83), (0.65, 0.86)])
def test_the_two_forms_differ_as_stated(speed: float, expected: float) -> None:
    """The handbook form gives 0.83 to 0.86 of the screening one between a still room and a turning rim."""
    args = (21.0, 0.5, speed)
    share = drying.evaporation_handbook_kg_m2_s(*args) / drying.evaporation_kg_m2_s(*args)

    assert share == pytest.approx(expected, abs=0.01)


def test_time_to_dry_and_back() -> None:
    """50 um dry in 10 min in a 21 C room of 50 % at 0.65 m/s; the film is found again from the time."""
    rate = drying.evaporation_kg_m2_s(21.0, 0.5, 0.65)
    seconds = drying.time_to_dry_s(50e-6, rate)

    assert seconds is not None
    assert seconds / 60 == pytest.approx(10.0, abs=0.3)
    assert drying.film_from_dull_m(seconds, rate) == pytest.approx(50e-6, rel=1e-12)
    assert drying.time_to_dry_s(50e-6, 0.0) is None


def test_saturated_air_dries_nothing() -> None:
    """At 100 % humidity nothing evaporates."""
    assert drying.evaporation_kg_m2_s(20.0, 1.0, 1.0) == 0.0


def test_face_of_a_thick_body_by_solve_ivp() -> None:
    """The face warms by 2 q sqrt(t/pi)/sqrt(k rho c): a slab in 400 layers, by SciPy's solve_ivp."""
    k, rho, c, flux, seconds, depth, count = 1.2, 2230.0, 830.0, 160.0, 900.0, 0.12, 400
    width = depth / count

    def rate(_: float, temperature: np.ndarray) -> np.ndarray:
        flow = np.zeros(count + 1)
        flow[0] = flux
        flow[1:-1] = -k * np.diff(temperature) / width
        return -np.diff(flow) / (rho * c * width)

    solved = solve_ivp(rate, (0.0, seconds), np.zeros(count), method="LSODA", lband=1, uband=1, rtol=1e-7)
    first, second = solved.y[0, -1], solved.y[1, -1]
    face = first + (first - second) / 2

    assert heat.face_rise_k(flux, seconds, k, rho, c) == pytest.approx(face, rel=2e-3)


def test_face_to_back_difference_by_eigenvalue() -> None:
    """The slowest mode of a slab with an insulated back dies with 4 t^2/(pi^2 D): by eigenvalue."""
    thickness, diffusivity, count = 0.042, 0.65e-6, 400
    width = thickness / count
    matrix = np.zeros((count, count))
    for i in range(count):
        for j in (i - 1, i + 1):
            if 0 <= j < count:
                matrix[i, j] += 1.0
                matrix[i, i] -= 1.0
    matrix[0, 0] -= 2.0
    slowest = np.linalg.eigvalsh(matrix * diffusivity / width**2).max()

    assert heat.face_to_back_time_s(thickness, diffusivity) == pytest.approx(-1 / slowest, rel=1e-4)
    assert heat.face_to_back_time_s(thickness, diffusivity, back_insulated=False) == pytest.approx(
        -1 / slowest / 4, rel=1e-4
    )


def test_bow_is_the_sagitta_of_two_radii() -> None:
    """A plate warmer on one face by dT bends so that its faces differ in length by alpha dT (geometry)."""
    alpha, rise, radius, thickness = 3.3e-6, 3.8, 0.23, 0.042
    curve = thickness / (alpha * rise)
    sagitta = curve - math.sqrt(curve**2 - radius**2)

    assert heat.bow_m(alpha, rise, radius, thickness) == pytest.approx(sagitta, rel=1e-6)
    assert heat.bow_m(alpha, rise, radius, thickness) * 1e6 == pytest.approx(7.9, abs=0.05)


def test_whole_mirror_figures() -> None:
    """26 W for 16 min warm 14.3 kg of borosilicate by 2.1 K; it follows the room in 65 min (worked apart)."""
    assert heat.body_rise_k(26.0, 960.0, 14.3, 830.0) == pytest.approx(2.1, abs=0.02)
    assert heat.room_time_s(0.042, 2230.0, 830.0) / 60 == pytest.approx(65, abs=0.5)


@pytest.mark.parametrize(
    ("act", "name"),
    [
        (lambda: drying.saturation_pressure_pa(80.0), "temperature_c"),
        (lambda: drying.evaporation_kg_m2_s(20.0, 48.0, 0.1), "humidity"),
        (lambda: drying.evaporation_kg_m2_s(20.0, 0.5, -1.0), "air_speed_m_s"),
        (lambda: drying.time_to_dry_s(0.0, 1e-4), "film_m"),
        (lambda: heat.bow_m(math.nan, 1.0, 0.2, 0.04), "expansion_per_k"),
        (lambda: heat.body_rise_k(10.0, 10.0, 0.0, 800.0), "mass_kg"),
    ],
)
def test_nonsense_is_refused_by_name(act: object, name: str) -> None:
    """What cannot be is refused, and the argument is named."""
    with pytest.raises(BadInput, match=name):
        act()  # type: ignore[operator]
