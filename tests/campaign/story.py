"""Plays a case: host, link, board and bench in one thread on simulated time; then repair, then the audit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from benchctl.assembly.build import HURRIED, Parts, build_simulated
from benchctl.clock import SteppedClock
from benchctl.logbook.keeper import RETRY_EVERY_S
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.calls import current_call
from benchctl.simulator.board import SimulatedBoard
from benchctl.simulator.cable import HostEnd
from benchctl.simulator.operator import Operator, Sees
from benchctl.simulator.simulated import SimulatedBench
from tests.campaign import faults
from tests.campaign.audit import Kept, audit
from tests.campaign.draws import Case, Fault, face_of
from tests.campaign.witness import MOVES_RPM, Breach, Witness

LONGEST_S = 150.0
RESTING = (State.STANDING, State.LOOK, State.CLOSED)
SOON_S = 2.0
STARTED_BY_S = 10.0
STILL_S = 2.0
"""How long the repaired bench is watched while nobody acts."""
STARTS_WITHIN_S = 3.0
REST_WITHIN_S = 4.0
Tell = Callable[[str], None]


class Story:
    """One case on its way. `play` gives the breaches; the other fields are for those who look closer."""

    def __init__(self, case: Case, folder: Path, tell: Tell | None = None) -> None:
        self.case, self.folder = case, folder
        self._tell = tell
        self.bench = SimulatedBench(
            case.job, seed=case.seed, constants=HURRIED, face=face_of(case.bench), board_id="campaign"
        )
        settings = case.settings
        self.bench.board = SimulatedBoard(self.bench.constants, settings, board_id="campaign")
        self.witness = Witness(self.bench, case)
        self.kept = Kept()
        self.events: list[dict[str, object]] = []
        self.now_s = self.asleep_s = 0.0
        self._operator: Operator | None = Operator(case.operator, case.seed)
        self._begins = list(case.faults)
        self._ends: list[tuple[float, str]] = []
        self._strays = list(case.strays)
        self._hosts = 0
        self._jumped_s = 0.0
        self.parts: Parts | None = self._host()

    def play(self) -> list[Breach]:
        """To the end, the repair and the audit; what was broken on the way."""
        while self.now_s < LONGEST_S and not self._over():
            self._go_on(self.case.host_step_s)
        self.still(1.0)
        self._repair()
        self.still(STILL_S)
        self._one_act_alone()
        if self.case.starts_again:
            self._start_again()
        assert self.parts is not None
        unkept = self.parts.close()
        return self.witness.breaches + audit(self, unkept)

    def _over(self) -> bool:
        """Whether the segment is over, or was not started, and no fault begins soon or ends."""
        if self._ends or (self._begins and self._begins[0].at_s < self.now_s + SOON_S):
            return False
        if self.parts is None:
            return self.bench.plant.table_rpm < MOVES_RPM
        engine = self.parts.runner.engine
        if engine.state is State.READY:
            return self.now_s > STARTED_BY_S
        return engine.state in RESTING and self._host_s - engine.entered_s > SOON_S

    # The host

    def _host(self) -> Parts:
        """A program started at the bench that is there; a disk that is full or gone is no reason to wait."""
        self._hosts += 1
        self.bench.cable.host = HostEnd(self.bench.cable)
        parts = build_simulated(
            self.case.job,
            self.folder,
            seed=self.case.seed + 7919 * (self._hosts - 1),
            stepped=True,
            listen=self._heard,
            plant=self.bench,
        )
        self.kept.watch(parts)
        return parts

    def _kill(self) -> None:
        """The program is gone at once, as by SIGKILL: the system closes its files, nothing else is done."""
        if self.parts is not None:
            self.parts.keeper._writer.close()
            self.parts = None

    def _heard(self, event: dict[str, object]) -> None:
        self.events.append(event)
        if self._tell is not None:
            details = " ".join(f"{key}={value}" for key, value in event.items() if key != "event")
            self._tell(f"{self.now_s:8.3f} s  host   {event['event']} {details}")

    def _do(self, act: Act | None) -> None:
        """A person's act, at the glass and at the program; None is a short press of the pedal."""
        self._say(f"person {'pedal' if act is None else act.value}")
        if act is None:
            self.bench.press_pedal()
            return
        self.witness.acted(act)
        self.bench.person(act.value)
        if self.parts is not None:
            self.parts.runner.do(Done(act))

    # Time

    def _go_on(self, seconds: float) -> None:
        """One step of the host, and the bench's control steps up to it."""
        self.now_s = round(self.now_s + seconds, 6)
        bench, control_s = self.bench, self.bench.constants.control_s
        while bench.now_s + control_s <= self.now_s + 1e-9:
            self._change(bench.now_s)
            bench.advance(bench.now_s + control_s)
            self.witness.see()
        parts = self.parts
        if "suspend" in self.witness.faults:
            self._sleep(seconds)
        elif parts is not None and "host-hang" not in self.witness.faults:
            _clock_of(parts).now_s = self._host_s
            self._act(parts)
            parts.runner.step(self._host_s, "face-hangs" not in self.witness.faults)

    @property
    def _host_s(self) -> float:
        """The host's monotonic time: the bench's, less what the computer slept."""
        return round(self.now_s - self.asleep_s, 6)

    def _sleep(self, seconds: float) -> None:
        self.asleep_s += seconds
        if self.parts is not None:
            _clock_of(self.parts).suspend(seconds)

    def still(self, seconds: float) -> None:
        """Let time pass."""
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self._go_on(0.15)

    def _act(self, parts: Parts) -> None:
        while self._strays and self._strays[0][0] <= self.now_s:
            self._do(self._strays.pop(0)[1])
        if self._operator is None:
            return
        runner = parts.runner
        call = current_call(runner, self._host_s)
        sees = Sees(str(runner.engine.state), None if call is None else call.pattern)
        for name in self._operator.step(self.now_s, sees):
            self._do(Act(name))

    def _say(self, what: str) -> None:
        if self._tell is not None:
            plant = self.bench.plant
            self._tell(
                f"{self.bench.now_s:8.3f} s  {what:34} {plant.table_rpm:6.2f} rpm  {self.bench.board.state}"
            )

    # Faults

    def _change(self, now_s: float) -> None:
        """Begin and end what is due."""
        while self._begins and self._begins[0].at_s <= now_s:
            self._begin(self._begins.pop(0), now_s)
        while self._ends and self._ends[0][0] <= now_s:
            self._end(self._ends.pop(0)[1])

    def _begin(self, fault: Fault, now_s: float) -> None:
        self._say(f"fault  {fault.name}")
        self.witness.begins(fault.name)
        faults.begin(self.bench, fault)
        if fault.name == "host-dies":
            self._kill()
        elif fault.name == "disk-full" and self.parts is not None:
            self.parts.disk.full = True
        elif fault.name == "clock-jump":
            self._jump()
        if fault.lasts_s is not None:
            self._ends.append((now_s + fault.lasts_s, fault.name))
            self._ends.sort()

    def _end(self, name: str) -> None:
        self._say(f"ends   {name}")
        self.witness.faults.pop(name, None)
        faults.end(self.bench, name)
        if name == "host-dies":
            self._revive()
        elif name == "disk-full" and self.parts is not None:
            self.parts.disk.full = False

    def _revive(self) -> None:
        """The program is started again; nobody starts the table."""
        if self.parts is None:
            self._operator = None
            self.parts = self._host()

    def _jump(self) -> None:
        if self.parts is not None:
            _clock_of(self.parts).jump_wall(faults.CLOCK_JUMP_S * (1 if self.case.seed % 2 else -1))

    # After the end

    def _repair(self) -> None:
        """All faults end at once: cable in, contacts released, power back, program back, disk free."""
        self._say("repair")
        self._operator = None
        self._strays.clear()
        self._begins.clear()
        self._ends.clear()
        self.witness.faults.clear()
        faults.repair(self.bench)
        self._revive()
        assert self.parts is not None
        self.parts.disk.full = False

    def _one_act_alone(self) -> None:
        """One act that is not the whole start, with nothing armed before it: nothing may move by it."""
        self._do(Act.STOP)
        self.still(0.6)
        acts = (Act.RESET, Act.RUN, Act.ACKNOWLEDGE, Act.NEXT, Act.GO_ON, Act.SPEED_UP, None)
        self._do(acts[self.case.seed % len(acts)])
        self.still(1.0)

    def _start_again(self) -> None:
        """Reset, arm and run start the repaired bench again, unless it must be serviced first."""
        if "disk-full" in self.witness.began_s:
            self.still(RETRY_EVERY_S)
        self._do(Act.STOP)
        self.still(REST_WITHIN_S)
        for act in (Act.LIFTED, Act.LOOKED, Act.ACKNOWLEDGE, Act.RESET, Act.NEXT, Act.ARM):
            self._do(act)
            self.still(0.6)
        self.still(0.6)
        self._do(Act.RUN)
        self.still(STARTS_WITHIN_S)
        board = self.bench.board
        if board.state != "running" and not board.settings.service_lock:
            assert self.parts is not None
            why = f"the repaired bench did not start: board {board.state}, {self.parts.runner.engine.state}"
            self.witness.breaches.append(Breach(self.now_s, "again", why))
        self._do(Act.STOP)
        self.still(REST_WITHIN_S)


def _clock_of(parts: Parts) -> SteppedClock:
    assert isinstance(parts.clock, SteppedClock)
    return parts.clock
