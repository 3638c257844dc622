"""How evenly a set-up removes glass: scatter, peak to valley, edge over centre, five zones.

Area-weighted over the mirror's ring, rates from `removal`. The rate has infinite slope where circles begin or
cease to be covered, and bends at the radius of the slip centre: the rings of quadrature meet there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchctl.physics.boundary import Array
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure
from benchctl.physics.removal import removal_rate

ZONES = 5
_NOTHING = 1e-12
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_RINGS = (3 * _NODES - _NODES**3) / 4 + 0.5
_RING_WEIGHTS = 0.75 * (1 - _NODES**2) * _WEIGHTS
_CLOSER = np.linspace(0.0, 1.0, 14)[1:-1]


@dataclass(frozen=True)
class Turning:
    """What a rate is asked of: contact, pressure, both speeds (rad/s), Preston coefficient (1/Pa)."""

    contact: Contact
    pressure: Pressure
    table_rad_s: float
    lap_rad_s: float
    preston_per_pa: float

    def rate(self, radii_m: Array) -> Array:
        """Depth per second (m/s) at each radius."""
        return removal_rate(
            self.contact, self.pressure, self.table_rad_s, self.lap_rad_s, self.preston_per_pa, radii_m
        )

    def bends_m(self) -> list[float]:
        """Radii from hole to rim, ends included, between which the rate is smooth."""
        contact, slip = self.contact, self.table_rad_s - self.lap_rad_s
        offset, lap = contact.post_offset_m, contact.lap_radius_m
        found = [abs(lap - offset), lap + offset]
        if slip != 0.0:
            found.append(abs(self.lap_rad_s / slip) * offset)
        for chord in self.pressure.pressed.chords:
            x, y = chord.distance * chord.gx + offset, chord.distance * chord.gy
            found.append(abs(chord.distance + offset * chord.gx))
            found += [math.hypot(x - s * chord.gy, y + s * chord.gx) for s in (chord.start, chord.end)]
        low, high = contact.hole_radius_m, contact.mirror_radius_m
        apart = 1e-9 * high
        inner = sorted(r for r in found if low + apart < r < high - apart)
        kept = [low]
        kept += [r for i, r in enumerate(inner) if i == 0 or r - inner[i - 1] > apart]
        return [*kept, high]


@dataclass(frozen=True)
class Evenness:
    """Scores of one set-up. `cv`: area-weighted standard deviation over mean; `pv`: greatest less least rate
    over mean; `edge_over_centre`: rate at the rim over rate at the centre or the hole's edge. None where the
    figure has no finite value. `mean_m_per_s` is the mean rate over the mirror's ring."""

    mean_m_per_s: float
    cv: float | None
    pv: float | None
    edge_over_centre: float | None


def evenness(turning: Turning) -> Evenness:
    """Scores over the whole ring of glass."""
    bends = np.array(turning.bends_m())
    radii, weights = _rings(bends)
    rates = turning.rate(np.concatenate((radii, bends)))
    ring = weights / weights.sum()
    mean = float(ring @ rates[: radii.size])
    if not mean > 0.0:
        return Evenness(0.0, None, None, None)
    scatter = math.sqrt(float(ring @ (rates[: radii.size] - mean) ** 2))
    centre, edge = float(rates[radii.size]), float(rates[-1])
    low, high = _extremes(turning, np.concatenate((radii, bends)), rates)
    ratio = edge / centre if abs(centre) > _NOTHING * mean else None
    return Evenness(mean, scatter / mean, (high - low) / mean, ratio)


def _rings(bends: Array) -> tuple[Array, Array]:
    """Radii and area weights (m2) of a quadrature over the rings between the bends, clustered at them."""
    width = np.diff(bends)[:, None]
    radii = bends[:-1, None] + width * _RINGS
    weights = 2 * math.pi * radii * width * _RING_WEIGHTS
    return radii.ravel(), weights.ravel()


def _extremes(turning: Turning, radii: Array, rates: Array) -> tuple[float, float]:
    """Least and greatest rate: the nodes, then twice a closer look around the best of them."""
    order = np.argsort(radii)
    radii, rates = radii[order], rates[order]
    for _ in range(2):
        best = (int(rates.argmin()), int(rates.argmax()))
        spans = [(radii[max(i - 1, 0)], radii[min(i + 1, radii.size - 1)]) for i in best]
        more = np.concatenate([first + (last - first) * _CLOSER for first, last in spans])
        radii, rates = np.concatenate((radii, more)), np.concatenate((rates, turning.rate(more)))
        order = np.argsort(radii)
        radii, rates = radii[order], rates[order]
    return float(rates.min()), float(rates.max())


def zone_bounds_m(contact: Contact) -> list[tuple[float, float]]:
    """Inner and outer radius of five rings of equal width from the hole, or the centre, to the rim."""
    edges = np.linspace(contact.hole_radius_m, contact.mirror_radius_m, ZONES + 1)
    return [(float(a), float(b)) for a, b in pairwise(edges)]


def zone_rates(turning: Turning) -> list[float]:
    """Area-weighted mean rate (m/s) in each of the five zones, inmost first."""
    bends, means = turning.bends_m(), []
    for low, high in zone_bounds_m(turning.contact):
        radii, weights = _rings(np.array([low, *(r for r in bends if low < r < high), high]))
        means.append(float(weights @ turning.rate(radii) / weights.sum()))
    return means
