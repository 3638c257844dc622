"""Friction between glass and lap: the contact's own torques, tabulated once and looked up at each step.

Coulomb friction asks which way, not how fast: both torques depend on the two speeds through the angle
atan2(lap, table) alone. The table over one turn of that angle is filled by `benchctl.physics` (no-tension
pressure under a load at the lap's centre, integrated over the contact) and read by straight lines between
its points. Nothing is fitted.

The torques are the slopes of the friction power D(table, lap): lap torque -dD/d(lap), table torque
+dD/d(table). D is of first degree in the speeds, so its second derivatives have one number k at each angle:
    d(lap torque)/d(angle) = -k cos(angle),   d(table torque)/d(angle) = -k sin(angle)
k is what makes the pair stiff at low speeds, and lets the step be solved implicitly (derived here).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchctl.models.job import Job
from benchctl.physics.contact import Contact
from benchctl.physics.spin import torque_table

POINTS = 1440
FULL_TURN = 2.0 * math.pi


class FaceFriction:
    """Torques of the glass on the lap and of the lap on the table, per unit of friction coefficient, N m."""

    def __init__(self, lap_nm: Sequence[float], table_nm: Sequence[float]) -> None:
        """Values at equal steps of the angle from 0, one turn, the end left out."""
        points = len(lap_nm)
        self.per_radian = points / FULL_TURN
        self.points = points
        step = FULL_TURN / points
        rows = []
        for i in range(points + 1):
            before, at, after = (i - 1) % points, i % points, (i + 1) % points
            lap_slope = (lap_nm[after] - lap_nm[before]) / (2.0 * step)
            table_slope = (table_nm[after] - table_nm[before]) / (2.0 * step)
            angle = at * step
            stiff = -(lap_slope * math.cos(angle) + table_slope * math.sin(angle))
            rows.append((float(lap_nm[at]), float(table_nm[at]), max(0.0, float(stiff))))
        self._rows = tuple(rows)

    @classmethod
    def of(cls, job: Job) -> FaceFriction:
        """The contact of a job: its mirror, lap, post and load."""
        mirror, lap = job.mirror, job.lap
        contact = Contact(mirror.radius_m, lap.radius_m, job.setup.post_offset_m, mirror.hole_radius_m)
        lap_nm, table_nm = torque_table(contact, job.load_n, points=POINTS)
        return cls([float(value) for value in lap_nm], [float(value) for value in table_nm])

    @property
    def stall_nm(self) -> float:
        """Torque on a lap held still, per unit of friction coefficient: more drag than this stalls it."""
        return self._rows[0][0]

    @property
    def in_step_nm(self) -> float:
        """Torque on the table while the lap turns with it, per unit of friction coefficient."""
        return self.at(1.0, 1.0)[1]

    def at(self, table_rad_s: float, lap_rad_s: float) -> tuple[float, float, float]:
        """Torque driving the lap, torque holding the table, and k; any speeds but both zero."""
        place = math.atan2(lap_rad_s, table_rad_s) * self.per_radian
        if place < 0.0:
            place += self.points
        index = int(place)
        if index >= self.points:
            index, place = 0, 0.0
        share = place - index
        lap, table, stiff = self._rows[index]
        lap_next, table_next, _ = self._rows[index + 1]
        return lap + share * (lap_next - lap), table + share * (table_next - table), stiff
