"""One bench, stepped: readings in, verdict, guard, engine, commands out, records kept.

`step(now_s)` never blocks and reads no clock; live, a thread calls it every 20 to 50 ms, in tests a loop
with stepped time does. Renewals of the run permit are earned: they are sent from `step` alone, and only
while `face_ok` says that the face answers too.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from benchctl.errors import BadInput
from benchctl.guard.disk import DiskRule
from benchctl.guard.guard import Guard
from benchctl.lapwatch import LapWatch
from benchctl.link.orders import RENEW_EVERY_S
from benchctl.models.readings import (
    Armed,
    Hello,
    LapPulse,
    Lost,
    PedalPress,
    Reading,
    Refused,
    Running,
    Status,
    TablePulse,
)
from benchctl.segment.approach import Approach, reached
from benchctl.segment.commands import (
    ArmBoard,
    CloseRecord,
    Command,
    Note,
    OpenRecord,
    RunBoard,
    SetSpeed,
    StopBoard,
)
from benchctl.segment.engine import SegmentEngine
from benchctl.segment.states import ENDING, On, State
from benchctl.session.acts import Act, Done
from benchctl.session.alarms import Standing
from benchctl.session.board_port import BoardPort
from benchctl.session.bookkeeping import Bookkeeper, SegmentFacts
from benchctl.session.calls import current_call, pedal_answer
from benchctl.session.journal import Journal
from benchctl.session.preparation import Preparation
from benchctl.session.sight import sight_of
from benchctl.session.tally import Tally

USUAL_TARGETS = (12, 24)
"""Targets a turn of lap and table, until the board says what it counts."""
REST_RPM = 0.05
REST_S = 1.0
PENDING = (State.STARTING, *ENDING)
RESTING = (State.STANDING, State.LOOK, State.CLOSED)


@dataclass
class Moment:
    """What the faces need beside the parts themselves."""

    now_s: float = 0.0
    speed_changed_s: float = 0.0
    watching_since_s: float | None = None
    silenced: str | None = None


class Runner:
    """The bench in steps."""

    def __init__(
        self,
        link: BoardPort,
        facts: SegmentFacts,
        watch_for: Callable[[int, int], LapWatch],
        journal: Journal,
        preparation: Preparation | None = None,
    ) -> None:
        self.preparation = preparation
        self.link = link
        self.facts = facts
        self._watch_for = watch_for
        self.targets = link.targets or USUAL_TARGETS
        self.watch = watch_for(*self.targets)
        self.verdict = self.watch.verdict
        self.journal = journal
        self.at = Moment()
        self.alarms = Standing()
        self._acts: deque[Done] = deque()
        self._renewed_s = -1.0
        self._still_since_s: float | None = None
        self._boot_count: int | None = None
        self._called: str | None = None
        self._waiting_run: RunBoard | None = None
        self._begun = False
        self._fresh(0.0)
        self._begun = True

    def _fresh(self, now_s: float) -> None:
        """A new segment on the same bench; what the watcher has learned of the lap stays."""
        self._draw_mark()
        self._told_stop = ""
        self.engine = SegmentEngine(self.facts.job.segment, now_s)
        self.guard = Guard()
        self.disk = DiskRule()
        self.approach = Approach()
        self.tally = Tally(self.facts.job.segment.creep_rpm)
        self.watch.begin_segment()
        self.books = Bookkeeper(self.journal, self.facts)
        self.alarms.clear()
        self.at.watching_since_s = self.at.silenced = None

    def _draw_mark(self) -> None:
        """The mark to set the mirror to: the one drawn, put into the logbook when it is drawn."""
        if self.preparation is None:
            return
        mark, drawn = self.preparation.next_mark()
        self.facts = replace(self.facts, mark=mark, recovered="" if self._begun else self.facts.recovered)
        if drawn is not None:
            self.journal.keep("mark_draw", drawn)

    def do(self, done: Done) -> None:
        """Take a person's act; it is carried out in the next step. STOP goes before all others."""
        if done.act is Act.STOP:
            self._acts.appendleft(done)
        else:
            self._acts.append(done)

    def step(self, now_s: float, face_ok: bool = True) -> None:
        """One step at `now_s`, the host's time in seconds."""
        self.at.now_s = now_s
        self._fit_watch()
        for reading in self.link.poll(now_s):
            self.books.see(reading)
            self._take(reading, now_s)
        while self._acts:
            self._act(self._acts.popleft(), now_s)
        self._judge(now_s)
        self._obey(self.engine.tick(now_s), now_s)
        self._start_when_recorded(now_s)
        self._call(now_s)
        if face_ok and now_s - self._renewed_s >= RENEW_EVERY_S and self._wants_permit():
            self._renewed_s = now_s
            self.link.renew(now_s)
        if self.engine.turning:
            self.books.progress(now_s, self.tally)
        self.journal.poll()

    def _fit_watch(self) -> None:
        """Begin the watcher anew where the board counts other targets than it was made for."""
        targets = self.link.targets
        if targets is not None and targets != self.targets and self.engine.state is State.READY:
            self.targets = targets
            self.watch = self._watch_for(*targets)

    @property
    def ending(self) -> bool:
        """Whether the table has been told to stop and has not been seen to rest yet."""
        return self.engine.state in ENDING

    def at_s(self, now_s: float) -> float:
        """Seconds since the table was told to turn; 0 before."""
        return 0.0 if self.engine.run_at_s is None else now_s - self.engine.run_at_s

    def _wants_permit(self) -> bool:
        return self.engine.turning or self.engine.state in PENDING

    # Readings

    def _take(self, reading: Reading, now_s: float) -> None:
        if isinstance(reading, Status):
            self._take_status(reading, now_s)
        elif isinstance(reading, LapPulse | TablePulse):
            self._take_pulse(reading)
        elif isinstance(reading, Armed):
            self._event(On.BOARD_ARMED, now_s)
        elif isinstance(reading, Running):
            self._event(On.BOARD_RUNNING, now_s)
        elif isinstance(reading, Refused):
            self._event(On.BOARD_REFUSED, now_s, why=reading.why)
        elif isinstance(reading, PedalPress):
            self._take_pedal(reading)
        elif isinstance(reading, Hello):
            self._take_hello(reading, now_s)
        elif isinstance(reading, Lost):
            self._note(now_s, "link_lost", why=reading.why)
            self._board_stopped(now_s, "link_lost", "controlled_then_off")

    def _take_pulse(self, pulse: LapPulse | TablePulse) -> None:
        """A pulse for the watcher; one with an impossible time is a fault of the link, and is left out."""
        with suppress(BadInput):
            if isinstance(pulse, LapPulse):
                self.watch.pulse(pulse.at_s)
            else:
                self.watch.table_pulse(pulse.at_s)

    def _take_status(self, status: Status, now_s: float) -> None:
        before = self.verdict.state
        self.watch.status(status.at_s, status.set_rpm, status.table_rpm, status.load_percent)
        self.verdict = verdict = self.watch.verdict
        if self.engine.turning or self.engine.state in ENDING:
            self.tally.see(status, verdict)
            if verdict.state != before:
                self._note(now_s, "lap_state", state=verdict.state)
        if status.board_state == "tripped" or (self.engine.turning and status.board_state == "disarmed"):
            self._board_stopped(now_s, status.reason or "board_restarted", status.stop_kind)
        elif status.board_state == "slowing" and self.engine.turning and status.reason:
            self._board_stopped(now_s, status.reason, status.stop_kind)
        self._rest(status, now_s)

    def _rest(self, status: Status, now_s: float) -> None:
        if status.table_rpm > REST_RPM or status.enabled:
            self._still_since_s = None
            return
        self._still_since_s = status.at_s if self._still_since_s is None else self._still_since_s
        if status.at_s - self._still_since_s >= REST_S and self.engine.state in ENDING:
            self._event(On.AT_REST, now_s)

    def _take_pedal(self, press: PedalPress) -> None:
        answer = None if press.held else pedal_answer(self.engine, self.alarms)
        if answer is not None:
            self.do(Done(answer))

    def _take_hello(self, hello: Hello, now_s: float) -> None:
        if self._boot_count is not None and hello.boot_count != self._boot_count:
            self._note(now_s, "board_restarted", cause=hello.reset_cause)
            self._board_stopped(now_s, "board_restarted", "power_off")
        self._boot_count = hello.boot_count

    def _board_stopped(self, now_s: float, reason: str, kind: str | None) -> None:
        if self.engine.state is State.STOPPING or reason in (self._told_stop, self.engine.stop_reason):
            return
        if self.engine.state in (State.SLOW_DOWN, *RESTING) and reason == "planned_end":
            return
        self._told_stop = reason
        self._event(On.BOARD_STOPPED, now_s, reason=reason, kind=kind or "controlled_then_off")

    # Acts

    def _act(self, done: Done, now_s: float) -> None:
        act = done.act
        if act is Act.SILENCE:
            self.at.silenced = self._called
        elif act is Act.ACKNOWLEDGE:
            self.alarms.acknowledge()
        elif act is Act.WATCHING:
            self.at.watching_since_s = now_s
            self._note(now_s, "watching")
        elif act is Act.NOTE:
            self.books.remark(done.text)
            self._note(now_s, "note", text=done.text[:80])
        elif act is Act.RESET:
            self.link.reset(now_s)
        elif act is Act.NEXT and self.engine.state in (State.CLOSED, State.LOOK):
            self._fresh(now_s)
        elif act is not Act.NEXT:
            self._event(On(act.value), now_s)

    def _event(self, event: On, now_s: float, **details: object) -> None:
        """Follow an event if the state allows it now; a late answer or a stray key changes nothing."""
        if self.engine.allows(event):
            self._obey(self.engine.handle(event, now_s, **details), now_s)

    # Judgement

    def _judge(self, now_s: float) -> None:
        status = self.link.last_status
        if status is None or not self.engine.turning:
            self.alarms.see([], now_s)
            return
        sight = sight_of(self, status)
        findings = [*self.disk.see(self.books.kept, now_s), *self.guard.see(sight)]
        for raised in self.alarms.see(findings, now_s):
            self._note(now_s, "alarm", name=raised.name)
            self.books.count_alarm(raised.name)
        for finding in findings:
            if finding.trip is not None:
                self._event(On.TRIP, now_s, reason=finding.trip)
            elif finding.ease_rpm is not None:
                self._event(On.EASE, now_s, rpm=finding.ease_rpm)
        self._approach(status, now_s)

    def _approach(self, status: Status, now_s: float) -> None:
        self.approach.see(self.verdict, self.tally.lap_turns, self.tally.table_turns)
        engine = self.engine
        if not reached(status.table_rpm, engine.target_rpm):
            return
        if engine.state is State.CREEP and self.approach.true:
            self._event(On.LAP_TRUE, now_s)
        elif engine.state is State.RAMP and engine.target_rpm >= engine.work_rpm:
            self._event(On.AT_WORK, now_s)
        elif engine.state is State.RAMP and self.approach.true:
            self._event(On.AT_STEP, now_s)

    # Commands

    def _obey(self, commands: list[Command], now_s: float) -> None:
        for command in commands:
            if isinstance(command, Note):
                self._note(now_s, command.event, **dict(command.details))
            elif isinstance(command, ArmBoard):
                self.link.arm(now_s, command.ceiling_rpm)
            elif isinstance(command, OpenRecord):
                self.books.open(now_s, self.targets[0])
            elif isinstance(command, RunBoard):
                self._waiting_run = command
            elif isinstance(command, SetSpeed):
                self.at.speed_changed_s = now_s
                self.approach.restart()
                self.link.set_speed(now_s, command.rpm)
            elif isinstance(command, StopBoard):
                self._waiting_run = None
                self.link.stop(now_s, command.planned, command.reason)
            elif isinstance(command, CloseRecord):
                self._close(command)
        if commands and self.engine.state is State.LOOK:
            self.books.lifted(self.engine.stood_s)

    def _close(self, closing: CloseRecord) -> None:
        self.books.close(closing, self)
        if self.preparation is not None and self.books.record is not None:
            self.preparation.take("segment_end", self.books.record.model_dump())

    def _start_when_recorded(self, now_s: float) -> None:
        """The table may turn only once the start of the segment is on disk."""
        if self._waiting_run is None:
            return
        if self.books.may_start():
            run, self._waiting_run = self._waiting_run, None
            self.at.speed_changed_s = now_s
            self.link.run(now_s, run.rpm, run.call_after_s, run.end_after_s, run.wait_s)
        elif self.books.start_failed(now_s):
            self._waiting_run = None
            self._event(On.BOARD_REFUSED, now_s, why="record_not_kept")

    def _call(self, now_s: float) -> None:
        call = current_call(self, now_s)
        pattern = None if call is None or call.silenced else call.pattern
        if pattern != self._called:
            self._called = pattern
            self.link.call(now_s, pattern or "quiet")

    def _note(self, now_s: float, event: str, **details: object) -> None:
        self.journal.note(self.at_s(now_s), event, details)
