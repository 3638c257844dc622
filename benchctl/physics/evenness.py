"""How evenly a set-up removes glass: scatter, peak to valley, edge over centre, five zones.

Area-weighted over the mirror's ring, rates from `removal`. The rate has infinite slope where circles begin or
cease to be covered, and bends at the radius of the slip centre: the rings of the quadrature meet there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchctl.physics.boundary import Array
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import Pressure
from benchctl.physics.removal import removal_rate

ZONES = 5
_NOTHING = 1e-12
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(20)
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
        """Radii between which the rate is smooth; some may lie off the glass."""
        contact, slip = self.contact, self.table_rad_s - self.lap_rad_s
        offset, lap = contact.post_offset_m, contact.lap_radius_m
        found = [abs(lap - offset), lap + offset]
        if slip != 0.0:
            found.append(abs(self.lap_rad_s / slip) * offset)
        for chord in self.pressure.pressed.chords:
            x, y = chord.distance * chord.gx + offset, chord.distance * chord.gy
            found.append(abs(chord.distance + offset * chord.gx))
            found += [math.hypot(x - s * chord.gy, y + s * chord.gx) for s in (chord.start, chord.end)]
        return found


@dataclass(frozen=True)
class Survey:
    """Removal over the mirror. `rates_m_per_s` at the radii asked for; `zone_rates_m_per_s` the area-weighted
    means of five zones of equal width, inmost first; `cv` the area-weighted standard deviation over the mean;
    `pv` greatest less least rate over the mean; `edge_over_centre` the rate at the rim over that at the
    centre or the hole's edge. None where a figure has no finite value."""

    rates_m_per_s: Array
    zone_rates_m_per_s: list[float]
    cv: float | None
    pv: float | None
    edge_over_centre: float | None


def zone_bounds_m(contact: Contact) -> list[float]:
    """The six radii that bound five rings of equal width, from the hole or the centre to the rim."""
    return [float(r) for r in np.linspace(contact.hole_radius_m, contact.mirror_radius_m, ZONES + 1)]


def survey(turning: Turning, radii_m: Array) -> Survey:
    """Rates at `radii_m` (metres, on the glass) and the scores of the whole ring of glass."""
    cuts, zones = _cuts(turning)
    rings, weights = _rings(cuts)
    asked = np.concatenate((radii_m, rings.ravel(), cuts))
    rates = turning.rate(asked)
    own, over_rings = rates[: radii_m.size], rates[radii_m.size : radii_m.size + rings.size]
    per_ring = (over_rings.reshape(rings.shape) * weights).sum(axis=1)
    areas = weights.sum(axis=1)
    zone_rates = [float(per_ring[zones == i].sum() / areas[zones == i].sum()) for i in range(ZONES)]
    mean = float(per_ring.sum() / areas.sum())
    if not mean > 0.0:
        return Survey(own, zone_rates, None, None, None)
    variance = float((weights.ravel() @ (over_rings - mean) ** 2) / areas.sum())
    centre, edge = float(rates[-cuts.size]), float(rates[-1])
    low, high = _extremes(turning, asked[radii_m.size :], rates[radii_m.size :])
    ratio = edge / centre if abs(centre) > _NOTHING * mean else None
    return Survey(own, zone_rates, math.sqrt(variance) / mean, (high - low) / mean, ratio)


def _cuts(turning: Turning) -> tuple[Array, Array]:
    """Zone bounds and bends in order, and the zone (0 to 4) of each ring between them."""
    bounds = np.array(zone_bounds_m(turning.contact))
    apart = 1e-9 * bounds[-1]
    bends = [r for r in turning.bends_m() if np.abs(bounds - r).min() > apart and bounds[0] < r < bounds[-1]]
    cuts = np.sort(np.concatenate((bounds, bends)))
    return cuts, np.searchsorted(bounds, (cuts[:-1] + cuts[1:]) / 2) - 1


def _rings(cuts: Array) -> tuple[Array, Array]:
    """Radii and area weights (m2), a row a ring, clustered towards the cuts."""
    width = np.diff(cuts)[:, None]
    radii = cuts[:-1, None] + width * _RINGS
    return radii, 2 * math.pi * radii * width * _RING_WEIGHTS


def _extremes(turning: Turning, radii: Array, rates: Array) -> tuple[float, float]:
    """Least and greatest rate: the nodes, then twice a closer look around the best of them."""
    for _ in range(2):
        order = np.argsort(radii)
        radii, rates = radii[order], rates[order]
        best = (int(rates.argmin()), int(rates.argmax()))
        spans = [(radii[max(i - 1, 0)], radii[min(i + 1, radii.size - 1)]) for i in best]
        more = np.concatenate([first + (last - first) * _CLOSER for first, last in spans])
        radii, rates = np.concatenate((radii, more)), np.concatenate((rates, turning.rate(more)))
    return float(rates.min()), float(rates.max())
