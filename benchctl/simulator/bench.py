"""The bench itself: motor, table with mirror, lap with weights, water. Advanced by small steps of time.

Two rotors: the table with the mirror, turned by the motor; and the lap with its weights, turned by the
friction of the glass and held back at the post. Each step solves both speeds together, implicitly in the
friction between them (of which only one direction is stiff, see `friction`), so that slow turning and
rest need no shorter steps. Dry drag of bearings and post is exact: it brings a rotor to rest, never turns
it back, and holds what it can.
The same seed and the same inputs give the same bench, to the last bit.
"""

from __future__ import annotations

import math
from random import Random

from benchctl.models.job import Job
from benchctl.physics.bodies import disc_inertia_kg_m2, mirror_mass_kg, weights_inertia_kg_m2
from benchctl.simulator.constants import BenchConstants
from benchctl.simulator.friction import FULL_TURN, FaceFriction
from benchctl.simulator.motor import Drive
from benchctl.simulator.pickups import Pickup
from benchctl.simulator.post import PostDrag
from benchctl.simulator.water import Film

RAD_S = FULL_TURN / 60.0
"""One rpm in rad/s."""
FADE_RAD_S = 0.02
"""Below this speed (0.2 rpm) friction of the face falls in proportion; above, it is Coulomb's."""
WIDTH_OF_ONE = math.sqrt(12.0)
"""Width of an even spread whose standard deviation is 1."""
CALM_RAD_S2 = 2.5
"""While neither rotor changes faster than this, longer steps are exact enough."""
LEAST_ARM_SHARE = 1.0 / 3.0


class Bench:
    """The plant. Angles in radians, speeds in rad/s. `command_rpm` and `powered` are the drive's inputs."""

    def __init__(
        self,
        job: Job,
        seed: int,
        constants: BenchConstants | None = None,
        face: FaceFriction | None = None,
    ) -> None:
        self.constants = c = constants or BenchConstants()
        self.job = job
        self.now_s = 0.0
        self.command_rpm = 0.0
        self.powered = False
        self.table_rad_s = self.lap_rad_s = 0.0
        self.table_rad = self.lap_rad = 0.0
        self.face = face or FaceFriction.of(job)
        self.table_inertia, self.lap_inertia = inertias(job, c.weights_radius_share)
        self.drive = Drive(c, self._rated_nm(), self.table_inertia + self.lap_inertia)
        self.post = PostDrag(c, job.setup.post_drag_nm, seed)
        self.film = Film(job, c.resting_air_m_s)
        self.table_pickup = Pickup(c.table_sensor, Random(f"{seed} table sensor"))
        self.lap_pickup = Pickup(c.lap_sensor, Random(f"{seed} lap sensor"))
        self.table_edges: list[float] = []
        self.lap_edges: list[float] = []
        self._load_random = Random(f"{seed} load").random
        self._turned_s = 0.0
        self._wet_friction = job.setup.friction
        self._dry_rise = c.dry_friction_rise
        self._bearing_nm = c.bearing_drag_nm
        self._post_viscous = c.post_drag_viscous_nm_s
        self._noise, self._noise_floor = c.load_noise, c.load_floor
        self._ripple = c.table_ripple * RAD_S
        self._stall_nm = self.face.stall_nm
        self._calm = False
        # What mishaps and the person change
        self.friction_share = 1.0
        self.table_drag_nm = 0.0
        self.lap_on = True
        self.off_post = False
        self.stuck_share: float | None = None
        self._stuck_rpm = 0.0
        self.runaway_rpm = 0.0

    def _rated_nm(self) -> float:
        """A motor that fits the job: `usual_load` of it with wet work and the lap in step."""
        weight = self.job.setup.friction * self.job.load_n
        face_nm = max(
            self.job.setup.friction * self.face.in_step_nm, weight * self.job.lap.radius_m * LEAST_ARM_SHARE
        )
        return (face_nm + self.constants.bearing_drag_nm) / self.constants.usual_load

    @property
    def table_rpm(self) -> float:
        """The table's true speed."""
        return self.table_rad_s / RAD_S

    @property
    def lap_rpm(self) -> float:
        """The lap's true speed."""
        return self.lap_rad_s / RAD_S

    @property
    def friction(self) -> float:
        """The friction coefficient now: the job's with a fresh film, more as it dries."""
        rise = 1.0 + self._dry_rise * (1.0 - self.film.wetness)
        return self._wet_friction * rise * self.friction_share

    def load_permille(self) -> int:
        """The motor's own torque in 0.1 % of rated, as the drive reports it; 0 without power."""
        if not self.powered:
            return 0
        share = abs(self.drive.torque_nm) / self.drive.rated_nm
        noise = WIDTH_OF_ONE * (self._load_random() - 0.5)
        permille = 1000.0 * (share + noise * (self._noise * share + self._noise_floor))
        return int(permille) if permille > 0.0 else 0

    def lift_lap(self) -> None:
        """The person slides the lap off: no load and no friction, and it stands."""
        self.lap_on = False
        self.lap_rad_s = 0.0

    def lay_lap_on(self) -> None:
        """The lap is on the glass again; a rested lap starts unevenly again."""
        if not self.lap_on:
            self.lap_on = True
            self._turned_s = 0.0

    def advance(self, dt: float) -> None:
        """Advance by `dt`: in one step while the speeds hardly change, else in steps of `step_s` at most."""
        if self._calm:
            self.step(dt)
            return
        steps = max(1, round(dt / self.constants.step_s))
        for _ in range(steps):
            self.step(dt / steps)

    def step(self, dt: float) -> None:
        """One step of `dt` seconds; edges that fall into it are added to `table_edges` and `lap_edges`."""
        now = self.now_s
        table, lap = self.table_rad_s, self.lap_rad_s
        if now >= self.film.next_s:
            self.film.dry(now, table)
        if not self.powered:
            self.drive.off()
            if table == 0.0 and lap == 0.0:
                self.now_s = now + dt
                return
        self._turn(dt, table, lap)
        new_table, new_lap = self.table_rad_s, self.lap_rad_s
        little = CALM_RAD_S2 * dt
        self._calm = -little < new_table - table < little and -little < new_lap - lap < little
        table_after = self.table_rad + 0.5 * (table + new_table) * dt
        lap_after = self.lap_rad + 0.5 * (lap + new_lap) * dt
        if table_after >= self.table_pickup.next_rad:
            self.table_edges += self.table_pickup.turned(self.table_rad, table_after, now, dt)
        if lap_after >= self.lap_pickup.next_rad:
            self.lap_edges += self.lap_pickup.turned(self.lap_rad, lap_after, now, dt)
        self.table_rad, self.lap_rad = table_after, lap_after
        self.now_s = now + dt

    def _turn(self, dt: float, table: float, lap: float) -> None:
        """New speeds after `dt`."""
        torque = 0.0
        if self.powered:
            asked = self._asked_rpm() * (RAD_S + self._ripple * math.sin(self.table_rad))
            torque = self.drive.step(dt, asked, table)
        bearing = self._bearing_nm + self.table_drag_nm
        if self.off_post or not self.lap_on:
            self._turn_without_lap(dt, table, torque, bearing)
            return
        if lap > FADE_RAD_S:
            self._turned_s += dt
        friction = self.friction
        post = self.post.now_nm(self.now_s, self._turned_s, self.lap_rad, friction * self._stall_nm)
        lap_nm = -self._post_viscous * lap
        stiff = 0.0
        speed = math.hypot(table, lap)
        if speed > 0.0:
            faded = friction if speed > FADE_RAD_S else friction * speed / FADE_RAD_S
            on_lap, on_table, stiff = self.face.at(table, lap)
            torque -= faded * on_table
            lap_nm += faded * on_lap
            stiff *= dt * faded / speed
        table_j, lap_j = self.table_inertia, self.lap_inertia
        table_change = dt * (torque - bearing if table > 0.0 else _net(torque, bearing, table)) / table_j
        lap_change = dt * (lap_nm - post if lap > 0.0 else _net(lap_nm, post, lap)) / lap_j
        if stiff:
            across_table, across_lap = -lap / speed, table / speed
            against = stiff * (across_table * table_change + across_lap * lap_change)
            against /= 1.0 + stiff * (across_table * across_table / table_j + across_lap * across_lap / lap_j)
            table_change -= against * across_table / table_j
            lap_change -= against * across_lap / lap_j
        table_after, lap_after = table + table_change, lap + lap_change
        self.table_rad_s = table_after if table * table_after >= 0.0 else 0.0
        self.lap_rad_s = lap_after if lap * lap_after >= 0.0 else 0.0

    def _turn_without_lap(self, dt: float, table: float, torque: float, bearing: float) -> None:
        """The table alone; a lap off its post rides on the mirror and turns with it."""
        riding = self.off_post and self.lap_on
        inertia = self.table_inertia
        if riding:
            inertia += self.lap_inertia + self.job.load_n / 9.80665 * self.job.setup.post_offset_m**2
        change = dt * _net(torque, bearing, table) / inertia
        after = table + change
        self.table_rad_s = after if table * after >= 0.0 else 0.0
        self.lap_rad_s = self.table_rad_s if riding else 0.0

    def _asked_rpm(self) -> float:
        """The speed that the drive follows: what it is asked, unless it is out of order."""
        if self.stuck_share is not None:
            return self.stuck_share * self._stuck_rpm
        if self.runaway_rpm:
            return self._stuck_rpm + self.runaway_rpm
        self._stuck_rpm = self.command_rpm
        return self.command_rpm


def _net(torque: float, drag: float, speed: float) -> float:
    """Torque left beside a dry drag that opposes the motion, or holds what it can at rest."""
    if speed > 0.0:
        return torque - drag
    if speed < 0.0:
        return torque + drag
    if torque > drag:
        return torque - drag
    return torque + drag if torque < -drag else 0.0


def inertias(job: Job, weights_radius_share: float) -> tuple[float, float]:
    """Inertia of table with mirror, and of lap with weights, kg m2: discs, and weights as points."""
    mirror, lap, setup = job.mirror, job.lap, job.setup
    glass_kg = mirror_mass_kg(
        mirror.glass_data.density_kg_m3,
        mirror.radius_m,
        mirror.edge_thickness_m,
        mirror.curve_radius_m,
        mirror.hole_radius_m,
    )
    turning = disc_inertia_kg_m2(glass_kg, mirror.radius_m, mirror.hole_radius_m)
    turning += disc_inertia_kg_m2(job.table.mass_kg, job.table.diameter_m / 2.0)
    usual_m = weights_radius_share * lap.radius_m
    resting = disc_inertia_kg_m2(lap.mass_kg, lap.radius_m)
    weights = sum(weights_inertia_kg_m2([one.mass_kg], one.radius_m or usual_m) for one in setup.pieces)
    return turning, resting + weights
