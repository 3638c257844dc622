"""Area and centroid of the lens of two circles against the textbook formulas; quadrature by SciPy."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import dblquad, quad

from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction
from benchctl.physics.pressure import solve_pressure

LENSES = [(0.25, 0.175, 0.12), (0.25, 0.175, 0.18), (0.25, 0.1, 0.25), (0.2, 0.3, 0.35), (1.0, 1.0, 0.5)]


@pytest.mark.parametrize(("mirror", "lap", "offset"), LENSES)
def test_area_of_the_lens(mirror: float, lap: float, offset: float) -> None:
    """The contact of an overhanging lap has the area of the lens of two circles (textbook; from memory)."""
    d, r, big = offset, lap, mirror
    kite = math.sqrt((-d + r + big) * (d + r - big) * (d - r + big) * (d + r + big))
    area = (
        r * r * math.acos((d * d + r * r - big * big) / (2 * d * r))
        + big * big * math.acos((d * d + big * big - r * r) / (2 * d * big))
        - kite / 2
    )

    assert Contact(mirror, lap, offset).area_m2 == pytest.approx(area, rel=1e-12)


def segment_moment(radius: float, distance: float) -> float:
    """First moment about the circle's centre of the segment beyond a chord, (2/3)(R^2 - d^2)^(3/2)."""
    return 2 / 3 * (radius**2 - distance**2) ** 1.5


@pytest.mark.parametrize(("mirror", "lap", "offset"), LENSES)
def test_centroid_of_the_lens(mirror: float, lap: float, offset: float) -> None:
    """Its first moment is that of two circular segments with a common chord (textbook; from memory)."""
    chord = (mirror**2 - lap**2 - offset**2) / (2 * offset)
    mirror_area = mirror**2 * math.acos((chord + offset) / mirror) - (chord + offset) * math.sqrt(
        mirror**2 - (chord + offset) ** 2
    )
    moment = -segment_moment(lap, chord) + segment_moment(mirror, chord + offset) - offset * mirror_area

    assert Contact(mirror, lap, offset).moments.sx == pytest.approx(moment, rel=1e-10)


def test_a_ring_under_the_lap() -> None:
    """A hole wholly under the lap takes its own area and moment away."""
    whole, holed = Contact(1.0, 0.6, 0.2), Contact(1.0, 0.6, 0.2, 0.15)
    hole = math.pi * 0.15**2

    assert holed.area_m2 == pytest.approx(whole.area_m2 - hole, rel=1e-13)
    assert holed.moments.sx == pytest.approx(0.2 * hole, rel=1e-12)


def chord_of_lap(y: float, mirror: float, lap: float, offset: float) -> tuple[float, float]:
    """From and to of the contact's line at height y, in the lap's axes."""
    low = max(-math.sqrt(lap**2 - y * y), -offset - math.sqrt(mirror**2 - y * y))
    high = min(math.sqrt(lap**2 - y * y), -offset + math.sqrt(mirror**2 - y * y))
    return low, max(low, high)


@pytest.mark.parametrize("ratio", [-0.4, 0.0, 0.3, 0.9, 1.4])
def test_torque_by_dblquad(ratio: float) -> None:
    """Lap torque and side force agree with SciPy's dblquad over an overhanging contact (in x, then y)."""
    mirror, lap, offset = 1.0, 0.7, 0.5
    contact = Contact(mirror, lap, offset)
    pressure = solve_pressure(contact, 1.0, "linear")

    def pull(x: float, y: float, torque: bool) -> float:
        vx, vy = -(1 - ratio) * y, offset + (1 - ratio) * x
        p = pressure.a + pressure.b * x
        return p * ((x * vy - y * vx) if torque else vy) / (math.hypot(vx, vy) or 1.0)

    def integral(torque: bool) -> float:
        value, _ = dblquad(
            lambda x, y: pull(x, y, torque),
            0.0,
            lap,
            lambda y: chord_of_lap(y, mirror, lap, offset)[0],
            lambda y: chord_of_lap(y, mirror, lap, offset)[1],
            epsabs=1e-7,
            epsrel=1e-7,
        )
        return 2.0 * float(value)

    sums = friction(contact, pressure, 1.0, ratio)

    assert sums.lap_nm == pytest.approx(integral(True), abs=1e-6)
    assert sums.force_y_n == pytest.approx(integral(False), abs=1e-6)


def test_stall_torque_by_rings() -> None:
    """A stopped lap's torque on the table is the mean radius of the load, by SciPy's quad over rings."""
    contact = Contact(1.0, 0.6, 0.5, 0.2)
    pressure = solve_pressure(contact, 1.0, "uniform")

    def arc(r: float) -> float:
        cosine = (r * r + 0.25 - 0.36) / (r if r > 0 else 1.0)
        return 2 * math.acos(min(1.0, max(-1.0, cosine)))

    value, _ = quad(lambda r: r * r * arc(r), 0.2, 1.0, epsabs=1e-11, epsrel=1e-11, limit=200)
    sums = friction(contact, pressure, 1.0, 0.0)

    assert sums.lap_nm + 0.5 * sums.force_y_n == pytest.approx(pressure.a * value, rel=1e-9)
