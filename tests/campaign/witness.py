"""Looks at the plant's truth after every control step and says what must not have been.

The rules, by the names that a breach is told under:

  start      the table begins to run only by ARM and then RUN of a person, both after the last stop
  power      the drive has power only while the board runs or slows the table; a welded relay is cut off
  creep-up   a table at rest stays at rest unless it was started
  ceiling    the speed asked of the drive never passes the job's or the board's ceiling
  overspeed  a table over the limit has no power 0.3 s later, or 2.3 gaps between targets if longer
  following  a table that is off its steady speed by more than the board allows is stopped
  detection  a fault that must stop the table by itself has done so within its time
  rest       a table that is stopping rests in time (see `resting`)
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.session.acts import Act
from benchctl.simulator.simulated import SimulatedBench
from firmware_protocol import reasons
from firmware_protocol.messages import RUNNING, SLOWING
from tests.campaign.draws import Case
from tests.campaign.resting import Resting, Stop

OVERSPEED_S = 0.3
OVERSPEED_GAPS = 2.3
"""Below about 19 rpm the gap between two targets is so long that it decides: two fast gaps must be seen."""
OVERSPEED_NOISY_S = 1.0
FOLLOWING_S = 4.0
RUN_LATEST_S = 4.0
"""RUN reaches the board this long after it was asked for at most: the record's start is kept first."""
CUT_WITHIN_S = 0.75
"""A welded relay is found 0.5 s after power should be off; then the contactor drops."""
LATE_FRAMES_S = 0.2
"""Frames held back carry the run permit this much further, and no more."""
MOVES_RPM = 0.05
RESTED_S = 0.5
LEAST_TURNING_RPM = 3.0
GRABBED_SHARE = 3.5
MRPM_S_PER_MRAD_S2 = 9.549

DETECTED_WITHIN_S = {
    "host-dies": 0.6,
    "host-hang": 0.6,
    "suspend": 0.6,
    "face-hangs": 0.75,
    "cable-out": 0.6,
    "cable-silent": 0.6,
    "estop": 0.0,
    "board-reset": 0.0,
    "board-hang": 0.1,
    "pedal-stuck": 0.85,
    "table-sensor-dead": 2.3,
    "overload": 2.2,
    "lap-grab": 1.0,
}
"""Faults that stop the table whatever else happens, and the time in which the stop must have begun."""
MOMENTARY = ("board-reset", "board-hang")
SILENT_HOST = ("host-dies", "host-hang", "suspend", "face-hangs", "cable-out", "cable-silent")


class Breach(NamedTuple):
    """A rule that was broken, when (s) and how."""

    at_s: float
    rule: str
    what: str

    def __str__(self) -> str:
        return f"{self.at_s:8.3f} s  {self.rule}: {self.what}"


class Witness:
    """Fed with each control step, with what the person does and with the faults as they come and go."""

    def __init__(self, bench: SimulatedBench, case: Case) -> None:
        self.bench, self.case = bench, case
        self.breaches: list[Breach] = []
        self.stops: list[Stop] = []
        self.overspeeds_s: list[tuple[float, float]] = []
        self.faults: dict[str, float] = {}
        """The faults that act now, and since when."""
        self.began_s: dict[str, float] = {}
        """When each fault began for the first time."""
        self.acts: set[Act] = set()
        self.resting: Resting | None = None
        self.ceiling_rpm = min(case.job.segment.ceiling_rpm, case.settings.ceiling_mrpm / 1000.0)
        self._tick_s = bench.constants.control_s
        self._slack_s = 3.0 * self._tick_s + bench.constants.cable_latency_s
        self._told: set[str] = set()
        self._arms_s: list[float] = []
        self._run_s = -1.0
        self._stopped_s = self._ran_s = 0.0
        self._drove = self._was_driven = False
        self._unlike_s = self._over_s = self._off_s = self._rested_s = 0.0
        self._asked_rpm = self._reference_rpm = 0.0
        self._late_until_s = self._fast_rpm = 0.0

    def acted(self, act: Act) -> None:
        """The person acts."""
        now_s = self.bench.now_s
        self.acts.add(act)
        if act is Act.ARM:
            self._arms_s.append(now_s)
        elif act is Act.RUN:
            self._run_s = now_s
        elif act is Act.STOP:
            self._stopped_s = now_s

    def begins(self, fault: str) -> None:
        """A fault begins."""
        self.faults[fault] = self.bench.now_s
        self.began_s.setdefault(fault, self.bench.now_s)

    def see(self) -> None:
        """Look at the plant as it is now."""
        board, rpm = self.bench.board, self.bench.plant.table_rpm
        state = board.controller.state
        drives = board.powered and state == RUNNING
        driven = board.powered and state in (RUNNING, SLOWING)
        if driven and not self._was_driven:
            self._started()
        if self._drove and not drives:
            self._stopped_s = self.bench.now_s
            self.resting = Resting(self.bench, self.case.settings)
        self._power(state in (RUNNING, SLOWING))
        if self._over_s and not board.powered and self.bench.plant.runaway_rpm:
            self.overspeeds_s.append((self._fast_rpm, self._over_s))
        self._stays(rpm, state in (RUNNING, SLOWING) or self._was_driven)
        if board.powered and state in (RUNNING, SLOWING):
            self._speed(rpm)
        else:
            self._over_s = self._off_s = self._reference_rpm = 0.0
        if drives:
            self._detection()
        if self.resting is not None:
            self._rests()
        self._drove, self._was_driven = drives, driven

    def _tell(self, rule: str, what: str) -> None:
        """A breach, once a rule; what follows from the first is of no use."""
        if rule not in self._told:
            self._told.add(rule)
            self.breaches.append(Breach(round(self.bench.now_s, 3), rule, what))

    def _started(self) -> None:
        now_s, run_s = self.bench.now_s, self._run_s
        self._ran_s = now_s
        armed = any(self._stopped_s <= arm_s < run_s for arm_s in self._arms_s)
        if not (armed and run_s <= now_s <= run_s + RUN_LATEST_S):
            acts = f"ARM at {self._arms_s[-3:]}, RUN at {run_s:.3f} s"
            self._tell("start", f"stopped at {self._stopped_s:.3f} s, {acts}")
        if self.resting is not None:
            self._tell("start", f"before the table rested from the stop at {self.resting.at_s:.3f} s")
            self.resting = None

    def _stays(self, rpm: float, allowed: bool) -> None:
        """A lap that still turns may drag a table past rest once; after a while of rest nothing moves it."""
        if abs(rpm) < MOVES_RPM:
            self._rested_s += self._tick_s
            return
        board = self.bench.board
        if self._rested_s > RESTED_S and not allowed and not board.relay_welded:
            self._tell("creep-up", f"{rpm:.2f} rpm from rest while the board is {board.state}")
        self._rested_s = 0.0

    def _power(self, allowed: bool) -> None:
        board = self.bench.board
        if not board.powered or allowed:
            self._unlike_s = 0.0
            return
        if board.alive(self.bench.now_s):
            self._unlike_s += self._tick_s
        limit_s = CUT_WITHIN_S if board.relay_welded else 0.0
        if self._unlike_s > limit_s:
            self._tell("power", f"on for {self._unlike_s:.3f} s while the board is {board.state}")

    def _speed(self, rpm: float) -> None:
        asked, step_s = self.bench.board.command_rpm, self._tick_s
        settings = self.case.settings
        if asked > self.ceiling_rpm + 1e-3:
            self._tell("ceiling", f"{asked:.3f} rpm asked, the ceiling is {self.ceiling_rpm:.3f} rpm")
        fall_rpm = settings.planned_stop_mrad_s2 * MRPM_S_PER_MRAD_S2 / 2000.0 * step_s
        self._reference_rpm = max(asked, self._reference_rpm - fall_rpm)
        limit_rpm = min(1.15 * self._reference_rpm, self.ceiling_rpm) + 2.0
        if rpm > limit_rpm:
            self._over_s += step_s
        else:
            self._over_s = 0.0
        self._fast_rpm = self._reference_rpm if self._over_s else 0.0
        gap_s = 60.0 / (max(asked, 1.0) * self.bench.table_targets)
        told_noisy = self.bench.board.controller.motion.reason == reasons.TABLE_SENSOR_NOISY
        noisy = "table-sensor-noisy" in self.faults or told_noisy
        within_s = max(OVERSPEED_NOISY_S if noisy else OVERSPEED_S, OVERSPEED_GAPS * gap_s)
        blind = "table-sensor-dead" in self.faults or "board-hang" in self.faults
        if not blind and self._over_s > within_s + self._slack_s:
            self._tell("overspeed", f"{rpm:.1f} rpm, over {limit_rpm:.1f} rpm for {self._over_s:.3f} s")
        steady = asked == self._asked_rpm and asked > 0.0
        off = steady and abs(asked - rpm) > 1.2 * max(2.0, 0.1 * asked)
        self._off_s = self._off_s + step_s if off else 0.0
        self._asked_rpm = asked
        if self._off_s > FOLLOWING_S and not blind and not noisy:
            self._tell("following", f"{rpm:.1f} rpm for {asked:.1f} rpm asked, for {self._off_s:.1f} s")

    def _detection(self) -> None:
        now_s = self.bench.now_s
        if "frames-late" in self.faults or "frames-doubled" in self.faults:
            self._late_until_s = now_s + 5.0
        for name, since_s in self.faults.items():
            within_s = DETECTED_WITHIN_S.get(name)
            if within_s is None or (name == "lap-grab" and not self._lap_drags()):
                continue
            if name == "board-hang" and self.bench.board.relay_welded:
                continue  # the power rule says how long that may last
            if name in SILENT_HOST and now_s < self._late_until_s:
                within_s += LATE_FRAMES_S
            if name in MOMENTARY and since_s < self._ran_s:
                continue
            exposed_s = now_s - max(since_s, self._ran_s)
            if exposed_s > within_s + self._slack_s:
                self._tell("detection", f"{name}: still running after {exposed_s:.3f} s")

    def _lap_drags(self) -> bool:
        plant = self.bench.plant
        grabbed = plant.friction_share >= GRABBED_SHARE
        return grabbed and plant.lap_on and not plant.off_post and plant.table_rpm > LEAST_TURNING_RPM

    def _rests(self) -> None:
        assert self.resting is not None
        why_not = self.resting.see()
        if why_not:
            self._tell("rest", why_not)
        if self.resting.over is not None:
            self.stops.append(self.resting.over)
            self.resting = None
