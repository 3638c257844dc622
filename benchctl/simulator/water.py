"""The film of water between lap and glass: it dries with the room's air and the rim's wind until wetted."""

from __future__ import annotations

import math

from benchctl.models.job import Job

EVERY_S = 1.0


class Film:
    """`wetness` is 1 after wetting and falls to 0 as the film leaves; it changes once a second."""

    def __init__(self, job: Job, resting_air_m_s: float) -> None:
        self._job = job
        self._resting_air_m_s = resting_air_m_s
        self.wetness = 1.0
        self.cut_off = False
        """No water arrives any more, whoever wets."""
        self.next_s = 0.0

    def wet(self) -> None:
        """The person wets the work."""
        if not self.cut_off:
            self.wetness = 1.0

    def dry(self, now_s: float, table_rad_s: float) -> None:
        """Let the film dry by a second's worth; due whenever `next_s` has come."""
        self.next_s = now_s + EVERY_S
        room = self._job.room
        wind = max(room.draught_m_s, self._resting_air_m_s, table_rad_s * self._job.mirror.radius_m)
        gone_m = EVERY_S * drying_m_s(room.temperature_c, room.humidity, wind)
        self.wetness = max(0.0, self.wetness - gone_m / room.film_m)


def drying_m_s(temperature_c: float, humidity: float, air_m_s: float) -> float:
    """Speed at which an open film of water thins, m/s: (25 + 19 v)(x_s - x) kg/(m2 h), x in kg/kg.

    The formula is in common use for open water (read in several calculators). Vapour pressure after Magnus
    and 101325 Pa of air, from memory. Air from -40 to 60 C, humidity 0 to 1.
    """
    full_pa = 610.94 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))
    full, there = _kg_per_kg(full_pa), _kg_per_kg(humidity * full_pa)
    return (25.0 + 19.0 * air_m_s) * max(0.0, full - there) / 3600.0 / 1000.0


def _kg_per_kg(vapour_pa: float) -> float:
    return 0.622 * vapour_pa / (101325.0 - vapour_pa)
