"""Sagitta, masses and inertias against published forms, tables worked out apart, and SciPy's quadrature."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from benchctl.errors import BadInput
from benchctl.physics import bodies

SAGITTAS = (
    (300, 5, 3.7523, 3.7500),
    (300, 4, 4.6921, 4.6875),
    (400, 4.5, 5.5598, 5.5556),
    (460, 5.6, 5.1365, 5.1339),
    (600, 3.5, 10.7280, 10.7143),
    (750, 4, 11.7302, 11.7188),
)
"""Diameter mm, focal ratio, depth of sphere and parabola in mm (worked out apart)."""


@pytest.mark.parametrize(("diameter", "ratio", "sphere", "parabola"), SAGITTAS)
def test_table_of_sagittas(diameter: float, ratio: float, sphere: float, parabola: float) -> None:
    """Sphere and parabola have the depths of the table, to its last digit."""
    curve = 2 * ratio * diameter * 1e-3

    assert bodies.sagitta_sphere_m(curve, diameter * 1e-3) * 1e3 == pytest.approx(sphere, abs=6e-5)
    assert bodies.sagitta_parabola_m(curve, diameter * 1e-3) * 1e3 == pytest.approx(parabola, abs=6e-5)


@pytest.mark.parametrize("diameter", [0.05, 0.5, 3.0])
def test_conic_surface_of_the_drawing_standard(diameter: float) -> None:
    """Both are the conic h^2/(R (1 + sqrt(1 - (1+K) h^2/R^2))) of ISO 10110-12 (from memory), K 0 and -1."""
    radius, h = 4.0, diameter / 2
    for conic, depth in ((0.0, bodies.sagitta_sphere_m), (-1.0, bodies.sagitta_parabola_m)):
        surface = h * h / (radius * (1 + math.sqrt(1 - (1 + conic) * h * h / radius**2)))
        assert depth(radius, diameter) == pytest.approx(surface, rel=1e-14)


def test_a_micron_at_the_edge_moves_the_curve() -> None:
    """On a 460 mm f/5.6 mirror a micron more off the edge lengthens the radius by 1.0 mm."""
    drift = bodies.curve_drift_m(5.152, 0.23, 1e-6)

    assert drift == pytest.approx(1.0035e-3, rel=1e-3)
    before = bodies.sagitta_parabola_m(5.152, 0.46)
    assert bodies.sagitta_parabola_m(5.152 + drift, 0.46) == pytest.approx(before - 1e-6, abs=1e-9)


@pytest.mark.parametrize("hole", [0.0, 0.031, 0.1])
def test_mass_by_quadrature(hole: float) -> None:
    """The mass is the density times the volume under the face, by SciPy's quad over rings."""
    curve, radius, edge = 5.152, 0.23, 0.042

    def height(r: float) -> float:
        return edge - (radius**2 - r * r) / (2 * curve)

    volume, _ = quad(lambda r: 2 * math.pi * r * height(r), hole, radius)

    assert bodies.mirror_mass_kg(2230.0, radius, edge, curve, hole) == pytest.approx(
        2230.0 * volume, rel=1e-12
    )


def test_inertia_of_a_ring_by_quadrature() -> None:
    """A ring of even thickness has m (R^2 + rh^2)/2, by SciPy's quad."""
    moment, _ = quad(lambda r: r**3, 0.05, 0.2)
    area, _ = quad(lambda r: r, 0.05, 0.2)

    assert bodies.disc_inertia_kg_m2(3.0, 0.2, 0.05) == pytest.approx(3.0 * moment / area, rel=1e-12)
    assert bodies.weights_inertia_kg_m2([2.0, 1.5], 0.1) == pytest.approx(0.035)


@pytest.mark.parametrize(
    ("act", "name"),
    [
        (lambda: bodies.sagitta_sphere_m(0.1, 0.3), "diameter_m"),
        (lambda: bodies.mirror_mass_kg(2230.0, 0.23, 0.002, 1.0), "edge_thickness_m"),
        (lambda: bodies.mirror_mass_kg(2230.0, 0.23, 0.04, 5.0, 0.3), "hole_radius_m"),
        (lambda: bodies.disc_inertia_kg_m2(math.nan, 0.2), "mass_kg"),
        (lambda: bodies.sagitta_parabola_m(-1.0, 0.2), "curve_radius_m"),
    ],
)
def test_nonsense_is_refused_by_name(act: object, name: str) -> None:
    """What cannot be is refused, and the argument is named."""
    with pytest.raises(BadInput, match=name):
        act()  # type: ignore[operator]
