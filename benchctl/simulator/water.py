"""The film of water between lap and glass: it dries with the room's air and the rim's wind until wetted."""

from __future__ import annotations

from benchctl.models.job import Job
from benchctl.physics.drying import WATER_KG_M3, evaporation_kg_m2_s

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
        gone_m = EVERY_S * evaporation_kg_m2_s(room.temperature_c, room.humidity, wind) / WATER_KG_M3
        self.wetness = max(0.0, self.wetness - gone_m / room.film_m)
