"""Whether a table that is stopping comes to rest in time, from the plant's truth.

From the decision at speed w: rest within w / (rate of the ramp) + 0.2 s while the drive obeys. Where the
drive does not obey, power is off after T_SS1 at the latest, and after 1.5 times the ramp where the stop was
planned. Without power the table coasts: with the lap on it the lap brakes (4 to 9 rad/s2 on usual benches),
without it only the bearing does, and that may take long.
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.models.setup import STANDARD_GRAVITY_M_S2
from benchctl.simulator.simulated import SimulatedBench
from firmware_protocol import reasons
from firmware_protocol.messages import SLOWING
from firmware_protocol.settings import Settings

MARGIN_S = 0.2
REST_RAD_S = 0.005
LEAST_COAST_SHARE = 0.8
"""Of the mean drag, since the drag wanders."""
POWER_LATE_S = 0.75
"""Power that should be off is cut by the contactor after this at the latest."""


class Stop(NamedTuple):
    """A stop that ended in rest: decided when (s), from what speed (rpm), why, rest after how long (s)."""

    at_s: float
    rpm: float
    reason: str
    kind: str
    rest_s: float
    obeyed: bool
    lap_on: bool


class Resting:
    """One stop, from its decision on; `see` is called at every control step until `over` is set."""

    def __init__(self, bench: SimulatedBench, settings: Settings) -> None:
        self.bench, self.settings = bench, settings
        self.at_s = bench.now_s
        self.rad_s = bench.plant.table_rad_s
        motion = bench.board.controller.motion
        self.reason = reasons.name_of(motion.reason)
        self.over: Stop | None = None
        self._kind = 0
        self._due_s = 0.0
        stored_s = settings.t_ss1_ms / 1000.0
        planned_s = 1.5 * abs(self.rad_s) / (settings.planned_stop_mrad_s2 / 1000.0)
        lasts_s = max(stored_s, planned_s) if motion.stop_kind == reasons.PLANNED else stored_s
        self._power_due_s = self.at_s + lasts_s + POWER_LATE_S
        self._coast: tuple[float, float] | None = None
        self._drag_rad_s2 = float("inf")
        self._obeyed = self._lap_on = True

    def see(self) -> str:
        """What is wrong now, or an empty text."""
        bench, plant, now_s = self.bench, self.bench.plant, self.bench.now_s
        speed = plant.table_rad_s
        if abs(speed) < REST_RAD_S:
            self._end(now_s)
            return ""
        self._lap_on = self._lap_on and plant.lap_on and not plant.off_post
        disobeys = plant.stuck_share is not None or plant.runaway_rpm > 0.0 or plant.drive.slip > 0.0
        self._obeyed = self._obeyed and not disobeys
        if not bench.board.powered:
            return self._coasting(now_s, speed)
        self._coast = None
        if not self._obeyed:
            if now_s > self._power_due_s and bench.board.alive(now_s):
                return f"power still on {now_s - self.at_s:.2f} s after the stop at {self.at_s:.3f} s"
            return ""
        if bench.board.controller.state != SLOWING:
            return ""  # a welded relay: the contactor has its own time
        return self._slowing(now_s, speed)

    def _slowing(self, now_s: float, speed: float) -> str:
        kind = self.bench.board.controller.motion.stop_kind
        if kind != self._kind:
            planned = kind == reasons.PLANNED
            rate = self.settings.planned_stop_mrad_s2 if planned else self.settings.fault_stop_mrad_s2
            due_s = now_s + abs(speed) / (rate / 1000.0) + MARGIN_S
            self._due_s = min(self._due_s, due_s) if self._kind else due_s
            self._kind = kind
        return "" if now_s <= self._due_s else self._late(now_s, speed, "slowing under power")

    def _coasting(self, now_s: float, speed: float) -> str:
        plant = self.bench.plant
        if self._coast is None:
            self._coast = (now_s, abs(speed))
        riding = plant.job.load_n / STANDARD_GRAVITY_M_S2 * plant.job.setup.post_offset_m**2
        inertia = plant.table_inertia + plant.lap_inertia + riding
        torque = plant.constants.bearing_drag_nm
        if plant.lap_on and not plant.off_post:
            inertia = plant.table_inertia + plant.lap_inertia
            torque += plant.job.setup.friction * plant.face.in_step_nm
        self._drag_rad_s2 = min(self._drag_rad_s2, LEAST_COAST_SHARE * torque / inertia)
        off_s, off_speed = self._coast
        due_s = max(off_s + off_speed / self._drag_rad_s2 + MARGIN_S, self._due_s)
        return "" if now_s <= due_s else self._late(now_s, speed, "coasting")

    def _late(self, now_s: float, speed: float, how: str) -> str:
        return (
            f"still {speed / 0.10472:.2f} rpm, {how}, {now_s - self.at_s:.2f} s after the stop at "
            f"{self.at_s:.3f} s from {self.rad_s / 0.10472:.1f} rpm ({self.reason})"
        )

    def _end(self, now_s: float) -> None:
        motion = self.bench.board.controller.motion
        kind = reasons.STOP_KIND_NAMES[motion.stop_kind] if motion.reason else "power_off"
        rest_s = now_s - self.at_s
        self.over = Stop(
            self.at_s, self.rad_s / 0.10472, self.reason, kind, rest_s, self._obeyed, self._lap_on
        )
