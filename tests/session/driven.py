"""A bench on simulated time, driven act by act: host, link, board and plant, no scripted person."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.stepped import Stepper
from benchctl.guard.alarm import Alarm
from benchctl.models.job import Job, demo_job
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.session.view import Chart, snapshot
from benchctl.simulator.mishaps import parse_mishap
from benchctl.simulator.simulated import SimulatedBench


class Driven:
    """The bench, its events, and what a person would see."""

    def __init__(
        self,
        folder: Path,
        job: Job | None = None,
        minutes: float = 6.0,
        seed: int = 1,
        *,
        draw_marks: bool = False,
    ) -> None:
        self.events: list[dict[str, object]] = []
        self.job = job or demo_job().with_minutes(minutes)
        self.parts: Parts = build_simulated(
            self.job, folder, seed=seed, stepped=True, listen=self.events.append, draw_marks=draw_marks
        )
        self.stepper = Stepper(self.parts, None)
        self.runner = self.parts.runner
        assert self.parts.plant is not None
        self.plant: SimulatedBench = self.parts.plant

    @property
    def shot(self) -> Snapshot:
        """What a face would show now."""
        return snapshot(self.runner, Chart(60.0))

    @property
    def state(self) -> State:
        return self.runner.engine.state

    @property
    def rpm(self) -> float:
        """The table's true speed."""
        return self.plant.truth().table_rpm

    def go(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds / self.stepper.step_s)):
            self.stepper.step()

    def until(self, seen: Callable[[], bool], limit_s: float = 300.0) -> float:
        """Let time pass until `seen`; how long it took."""
        begun_s = self.stepper.now_s
        while not seen():
            assert self.stepper.now_s - begun_s < limit_s, f"{self.state}: {self.names()[-8:]}"
            self.stepper.step()
        return self.stepper.now_s - begun_s

    def do(self, act: Act, text: str = "") -> None:
        """A person's act, carried out in the next step."""
        self.plant.person(act.value)
        self.runner.do(Done(act, text))
        self.stepper.step()

    def start(self) -> None:
        """Arm and run, as a person does."""
        self.go(2.0)
        self.do(Act.ARM)
        self.until(lambda: self.state is State.ARMED, 5.0)
        self.go(1.0)
        self.do(Act.RUN)
        self.until(lambda: self.state is State.CREEP, 5.0)

    def polish(self) -> None:
        """Start, and wait for the working speed and a lap that the watcher calls steady."""
        self.start()
        self.until(lambda: self.state is State.POLISH and self.runner.verdict.state == "steady")

    def hold_up(self, seconds: float) -> None:
        """The program stands still for some seconds, the bench does not."""
        self.stepper.now_s += seconds
        self.plant.advance(self.stepper.now_s)

    def play(self, mishap: str) -> None:
        """Let something go wrong now."""
        self.plant.plan(parse_mishap(f"{mishap}@{self.stepper.now_s:.3f}"))

    def names(self) -> list[str]:
        """The events' names in order."""
        return [str(event["event"]) for event in self.events]

    def told(self, name: str) -> list[dict[str, object]]:
        """All events of a name."""
        return [event for event in self.events if event["event"] == name]

    def alarm(self, name: str) -> Alarm | None:
        """An alarm that stands, folded or not."""
        return next((one for one in self.runner.alarms.book.alarms() if one.name == name), None)

    def stays_at_rest(self, seconds: float = 6.0) -> bool:
        """Whether the table does not turn for some seconds."""
        still = True
        for _ in range(round(seconds / self.stepper.step_s)):
            self.stepper.step()
            still = still and self.rpm < 1e-6
        return still
