"""One bench, stepped: readings in, verdict, guard, engine, commands out, records kept.

`step(now_s)` never blocks and reads no clock; live, a thread calls it every 20 to 50 ms, in tests a loop
with stepped time does. Renewals of the run permit are earned: they are sent from `step` alone, and only
while `face_ok` says that the face answers too. The work is done by four parts that the runner holds
together: `Listening` (what the board says), `Acting` (what the person does), `Orders` (what the engine asks
for) and `Alarms`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import replace

from benchctl.guard.alarm import Change
from benchctl.guard.cable import CableRule
from benchctl.guard.disk import DiskRule
from benchctl.guard.guard import Guard
from benchctl.guard.sight import Finding
from benchctl.guard.timekeeping import ClockNews, ClockWatch, sleep_sentence
from benchctl.lapwatch import LapWatch
from benchctl.link.orders import RENEW_EVERY_S
from benchctl.models.readings import Status
from benchctl.segment.approach import Approach, reached
from benchctl.segment.commands import CloseRecord
from benchctl.segment.engine import SegmentEngine
from benchctl.segment.states import ENDING, On, State
from benchctl.session.acting import Acting
from benchctl.session.acts import Act, Done
from benchctl.session.alarms import Alarms, Conditions
from benchctl.session.bench_state import Moment
from benchctl.session.board_port import BoardPort
from benchctl.session.bookkeeping import Bookkeeper, SegmentFacts
from benchctl.session.journal import Journal
from benchctl.session.listening import Listening
from benchctl.session.orders import Orders
from benchctl.session.preparation import Preparation
from benchctl.session.readying import Readying
from benchctl.session.sight import sight_of
from benchctl.session.tally import Tally

USUAL_TARGETS = (12, 24)
"""Targets a turn of lap and table, until the board says what it counts."""
LATE_S = 0.5
"""A step that comes later than this after the last may have cost the run permit: it is noted."""
TOO_LATE_S = 1.0
"""A start that was begun before the program was held up for longer than this is given up."""
STARTS = (State.ARMING, State.ARMED, State.STARTING)
TO_MOTION = (Act.ARM, Act.RUN, Act.SPEED_UP, Act.FASTER, Act.GO_ON)
"""Acts that start the table or let it turn faster; beside a STOP they count for nothing."""


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
        self.link = link
        self.facts = facts
        self._watch_for = watch_for
        self.targets = link.targets or USUAL_TARGETS
        self.watch = watch_for(*self.targets)
        self.verdict = self.watch.verdict
        self.journal = journal
        self.at = Moment()
        self.alarms = Alarms(self._tell_alarm)
        self.readying = Readying(self, preparation)
        self.acting = Acting(self)
        self.listening = Listening(self, self.acting)
        self.orders = Orders(self, self._close)
        self._conditions = Conditions()
        self._clock_watch = ClockWatch()
        self._cable = CableRule()
        self._acts: deque[Done] = deque()
        self._renewed_s = -1.0
        self._begun = False
        self.next_segment(0.0)
        self._begun = True

    def next_segment(self, now_s: float) -> None:
        """A new segment on the same bench; what the watcher has learned of the lap stays."""
        if self._begun:
            self.facts = replace(self.facts, recovered="")
        self.readying.draw()
        self.listening.next_segment()
        self.engine = SegmentEngine(self.facts.job.segment, now_s)
        self.guard = Guard()
        self.disk = DiskRule()
        self.approach = Approach()
        self.tally = Tally(self.facts.job.segment.creep_rpm)
        self.watch.begin_segment()
        self.books = Bookkeeper(self.journal, self.facts)
        self.alarms.book.new_segment()
        self.at.watching_since_s = self.at.offered_rpm = None
        self.at.stop_detail = ""

    def do(self, done: Done) -> None:
        """Take a person's act; it is carried out in the next step. STOP goes before all others."""
        if done.act is Act.STOP:
            self._acts.appendleft(done)
        else:
            self._acts.append(done)

    def step(self, now_s: float, face_ok: bool = True) -> None:
        """One step at `now_s`, the host's time in seconds."""
        late_s = now_s - self.at.now_s
        if self.engine.turning and late_s > LATE_S:
            self.note(now_s, "step_late", by_s=round(late_s, 3))
        if late_s > TOO_LATE_S:
            self._start_too_late(late_s, now_s)
        if self.engine.turning and self.at.face_ok and not face_ok:
            self.note(now_s, "face_silent")
        self.at.now_s, self.at.face_ok = now_s, face_ok
        self._fit_watch()
        news = self._clock_watch.see(self.journal.clocks())
        for one in news:
            self._clock_news(one, now_s)
        for reading in self.link.poll(now_s):
            self.books.see(reading)
            self.listening.take(reading, now_s)
        self._void_beside_stop()
        while self._acts:
            self.acting.act(self._acts.popleft(), now_s)
        findings = self._judge(now_s)
        self.orders.obey(self.engine.tick(now_s), now_s)
        self.orders.start_when_recorded(now_s)
        holding = self._conditions.holding(self, findings, now_s)
        self.readying.step(now_s)
        told = {one.name: f"by {one.by_s:+.0f} s" for one in news}
        told = {name: words for name, words in told.items() if not self.alarms.book.stopped_for(name)}
        self.alarms.tell(self.alarms.book.see(told | holding, now_s))
        self.orders.call(now_s)
        if face_ok and now_s - self._renewed_s >= RENEW_EVERY_S and self._wants_permit():
            self._renewed_s = now_s
            self.link.renew(now_s)
        if self.engine.turning:
            self.books.progress(now_s, self.tally)
        self.journal.poll()

    def _void_beside_stop(self) -> None:
        if any(done.act is Act.STOP for done in self._acts):
            self._acts = deque(done for done in self._acts if done.act not in TO_MOTION)

    def _start_too_late(self, late_s: float, now_s: float) -> None:
        """A late start is worse than none: what was armed is disarmed, a RUN that waits counts no more."""
        if self.engine.state not in STARTS:
            return
        self._acts = deque(done for done in self._acts if done.act is Act.STOP)
        self.event(On.STOP, now_s, reason="start_unanswered")
        self.at.refusal = f"start: the program was held up for {late_s:.0f} s; arm again"
        self.note(now_s, "start_given_up", by_s=round(late_s, 3))

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
        """Not once the table is to rest: the permit then ends by itself, though no STOP arrive."""
        return self.engine.turning or self.engine.state is State.STARTING

    def event(self, event: On, now_s: float, **details: object) -> None:
        """Follow an event if the state allows it now; a late answer or a stray key changes nothing."""
        if self.engine.allows(event):
            self.orders.obey(self.engine.handle(event, now_s, **details), now_s)

    def note(self, now_s: float, event: str, **details: object) -> None:
        """One event, with the seconds since the table was told to turn."""
        self.journal.note(self.at_s(now_s), event, details)

    # Judgement

    def _judge(self, now_s: float) -> list[Finding]:
        """What the guard finds, and what follows from it for the segment."""
        noisy = self._cable.see(now_s, *self.listening.take_counts())
        found = [] if noisy is None else [noisy]
        status = self.link.last_status
        if status is None or not self.engine.turning:
            self.at.offered_rpm = None
            return found
        found += self.disk.see(self.books.kept, now_s)
        found += self.guard.see(sight_of(self, status))
        self.at.offered_rpm = next((one.offer_rpm for one in found if one.offer_rpm is not None), None)
        for finding in found:
            self._follow(finding, now_s)
        self._approach(status, now_s)
        return found

    def _follow(self, finding: Finding, now_s: float) -> None:
        if finding.trip is not None:
            self.at.stop_detail = finding.detail
            self.event(On.TRIP, now_s, reason=finding.trip)
        elif finding.wet_and_stop is not None:
            self.at.stop_detail = finding.detail
            self.event(On.WET_AND_STOP, now_s, reason=finding.wet_and_stop)
        elif finding.ease_rpm is not None:
            self.event(On.EASE, now_s, rpm=finding.ease_rpm)

    def _approach(self, status: Status, now_s: float) -> None:
        self.approach.see(self.verdict, self.tally.lap_turns, self.tally.table_turns)
        engine = self.engine
        if not reached(status.table_rpm, engine.target_rpm):
            return
        if engine.state is State.CREEP and self.approach.true:
            self.event(On.LAP_TRUE, now_s)
        elif engine.state is State.RAMP and engine.target_rpm >= engine.work_rpm:
            self.event(On.AT_WORK, now_s)
        elif engine.state is State.RAMP and self.approach.true:
            self.event(On.AT_STEP, now_s)

    # The log

    def _close(self, closing: CloseRecord) -> None:
        self.books.close(closing, self)
        self.alarms.tell(self.alarms.book.unshelve(self.at.now_s))
        if self.books.ending is not None:
            self.readying.ended(self.books.ending.record_id)

    def _tell_alarm(self, change: Change) -> None:
        """Each change of an alarm is an event; those of a fault or a warning go to the logbook too."""
        raised = change.what == "raised"
        if not change.listed and change.what in ("raised", "cleared", "again"):
            return
        event = "alarm" if raised else f"alarm_{change.what}"
        details = {"name": change.name, "priority": change.priority, "cause": change.cause}
        self.note(self.at.now_s, event, **{key: told for key, told in details.items() if told is not None})
        if raised:
            self.books.count_alarm(change.name)
        if change.listed and change.what != "again":
            self.books.keep_event("alarm", {"what": change.what, **details})

    def _clock_news(self, news: ClockNews, now_s: float) -> None:
        """A clock that was set changes no duration; a computer that slept ends the segment."""
        by_s, clocks = round(news.by_s, 3), news.clocks
        told = {"what": news.name, "by_s": by_s, "wall_s": clocks.wall_s, "boot_s": clocks.boot_s}
        self.books.keep_event("clock", told)
        self.note(now_s, "suspend" if news.name == "computer_slept" else news.name, by_s=by_s)
        if news.name == "computer_slept":
            self.readying.slept(news.by_s)
        if news.name == "computer_slept" and self.engine.turning:
            self.at.stop_detail = sleep_sentence(news)
            self.event(On.TRIP, now_s, reason="computer_slept")
        elif news.name == "computer_slept":
            self._start_too_late(news.by_s, now_s)
