"""Segment engine and alarm book under any order of events: what must hold after every one of them.

The board's machine is in `tests/firmware_protocol/test_state_machine.py`, that of the marks in
`tests/planner/test_marks.py`.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from benchctl.guard.alarm_rows import ADVICE, ALARMS, OVER_ALL, STOPS
from benchctl.guard.alarms import MOST_SHELVED_S, Alarm, AlarmBook
from benchctl.segment.commands import CloseRecord, Command, OpenRecord, RunBoard, SetSpeed, StopBoard
from benchctl.segment.engine import EXPLAINED_BY, WAIT_LEAST_S, SegmentEngine
from benchctl.segment.states import ENDING, LIMITS, TURNING, On, State
from tests.segment.test_engine import attempt, plan

TICK_S = 1.0
ROOM_S = 3 * TICK_S
"""A limit passed between two ticks is seen at the next one; a chain of three states may end at one tick."""
LENGTH_S, WAIT_S = 60.0, 45.0

PERSON = (On.ARM, On.RUN, On.SPEED_UP, On.WETTED, On.SLOWER, On.FASTER, On.HOLD_SLOW, On.GO_ON, On.STOP)
OTHERS = [event for event in On if event not in (*PERSON, On.CALL_DUE, On.TIME_UP, On.LIMIT)]


class SegmentRules(RuleBasedStateMachine):
    """A segment on which anything may happen, with time that goes on in ticks."""

    def __init__(self) -> None:
        super().__init__()
        self.engine = SegmentEngine(plan(length="60 s", wet_call="15 s", wait_unanswered="45 s"))
        self.now_s = 0.0
        self.last: On | None = None
        self.armed_by_person = self.stopped = False
        self.opened = self.closed = 0
        self.reason: str | None = None

    def follow(self, commands: list[Command]) -> None:
        """What the engine asks for, judged."""
        for command in commands:
            if isinstance(command, RunBoard):
                assert self.last is On.RUN, "only the person's RUN starts it"
                assert self.armed_by_person
                assert not self.stopped
                assert self.opened > self.closed, "the record comes first"
            elif isinstance(command, SetSpeed):
                assert not self.stopped, "no speed is set once it stops"
                assert 0.0 < command.rpm <= self.engine.ceiling_rpm
            elif isinstance(command, OpenRecord):
                self.opened += 1
            elif isinstance(command, CloseRecord):
                self.closed += 1
            elif isinstance(command, StopBoard):
                self.armed_by_person = False
        if self.engine.state in ENDING:
            self.stopped = True

    def happen(self, event: On) -> None:
        self.last = event
        if event is On.ARM:
            self.armed_by_person = True
        self.follow(attempt(self.engine, event, self.now_s))

    @rule(event=st.sampled_from(PERSON))
    def person(self, event: On) -> None:
        self.happen(event)

    @rule(event=st.sampled_from(OTHERS))
    def something(self, event: On) -> None:
        self.happen(event)

    @precondition(lambda self: self.engine.state is State.READY)
    @rule(until=st.integers(1, 8))
    def work(self, until: int) -> None:
        """The usual way, so that all states are reached."""
        way = (On.ARM, On.BOARD_ARMED, On.RUN, On.BOARD_RUNNING, On.LAP_TRUE, On.AT_STEP, On.AT_WORK)
        for event in way[:until]:
            self.happen(event)

    @rule(ticks=st.sampled_from([1, 1, 3, 11, 16, 46, 62]))
    def wait(self, ticks: int) -> None:
        for _ in range(ticks):
            self.now_s += TICK_S
            self.last = None
            self.follow(self.engine.tick(self.now_s))

    @invariant()
    def the_first_cause_stays(self) -> None:
        """A reason for a stop is not changed, except by what explains it."""
        reason = self.engine.stop_reason
        if self.reason is not None and reason != self.reason:
            assert reason in EXPLAINED_BY.get(self.reason, ())
        self.reason = reason

    @invariant()
    def nothing_waits_for_ever(self) -> None:
        """No state outlasts its limit, and no table is asked to turn past the end and the wait after it."""
        engine = self.engine
        limit_s = engine.limit_s()
        if limit_s is not None:
            assert self.now_s - engine.entered_s <= limit_s + ROOM_S
        if engine.state in TURNING:
            assert engine.run_at_s is not None
            assert self.now_s <= engine.run_at_s + LENGTH_S + max(WAIT_S, WAIT_LEAST_S) + ROOM_S

    @invariant()
    def records_match(self) -> None:
        """A record is opened once and closed once, after the table was told to stop or never turned."""
        assert 0 <= self.closed <= self.opened <= 1
        if self.engine.state in (State.STANDING, State.LOOK):
            assert self.closed == 1
        if self.engine.state in (*TURNING, *ENDING):
            assert (self.opened, self.closed) == (1, 0)


def test_every_state_that_a_person_waits_in_has_a_limit() -> None:
    """The machine's rule on waiting has something to look at in every state but those that time ends."""
    timed = {State.POLISH, State.WET_DOWN, State.RUNNING_IN, State.CLOSED}
    assert {state for state in State if state not in LIMITS} <= timed


ADVICES = sorted(name for name, row in ALARMS.items() if row.priority == ADVICE)
WARNINGS = sorted(name for name, row in ALARMS.items() if row.priority != ADVICE)
NAMES = [*ADVICES[:4], *WARNINGS[:5], "lap_standing"]
REASONS = ["lap_stalled", "overspeed", "link_lost", "person", "end_unanswered", OVER_ALL]


class AlarmRules(RuleBasedStateMachine):
    """Alarms that come and go, stops, and a person who acknowledges, silences, shelves and resets."""

    def __init__(self) -> None:
        super().__init__()
        self.book = AlarmBook()
        self.now_s = 0.0
        self.holding: dict[str, float] = {}
        self.told: dict[str, float] = {}

    def by_name(self) -> dict[str, Alarm]:
        return {alarm.name: alarm for alarm in self.book.alarms()}

    def look(self) -> None:
        """One step of the bench."""
        for name in self.holding:
            self.told.setdefault(name, self.now_s)
        self.told = {name: since_s for name, since_s in self.told.items() if name in self.holding}
        for change in self.book.see(dict.fromkeys(self.holding, ""), self.now_s):
            if change.what == "raised" and change.name in ALARMS:
                lasted_s = self.now_s - self.told[change.name]
                assert lasted_s >= ALARMS[change.name].on_delay_s, "a spike is no alarm"

    @rule(name=st.sampled_from(NAMES))
    def comes(self, name: str) -> None:
        self.holding.setdefault(name, self.now_s)
        self.look()

    @rule(name=st.sampled_from(NAMES))
    def goes(self, name: str) -> None:
        self.holding.pop(name, None)
        self.look()

    @rule(seconds=st.sampled_from([0.1, 1.0, 4.0, 16.0, 400.0, 1900.0]))
    def time(self, seconds: float) -> None:
        self.now_s += seconds
        self.look()

    @rule(reason=st.sampled_from(REASONS))
    def stop(self, reason: str) -> None:
        self.book.trip(reason, self.now_s)
        uncaused = [alarm.name for alarm in self.book.alarms() if alarm.cause is None]
        uncaused = [name for name in uncaused if name != "lap_standing"]
        assert len(uncaused) == 1, "one cause, all else beneath it, but for what the work asks for"
        assert self.book.first in (None, *uncaused)
        if reason == OVER_ALL:
            assert self.book.first == OVER_ALL

    @rule(hold=st.booleans())
    def the_stop_holds_on(self, hold: bool) -> None:
        """The cause of each stop that stands is seen to hold on, or to be gone."""
        for alarm in self.book.alarms():
            if alarm.name in STOPS and alarm.latched:
                if hold:
                    self.holding[alarm.name] = self.now_s
                else:
                    self.holding.pop(alarm.name, None)
        self.look()

    @rule(act=st.sampled_from(["acknowledge", "silence"]))
    def acknowledge_or_silence(self, act: str) -> None:
        before = self.by_name()
        changes = self.book.acknowledge() if act == "acknowledge" else self.book.silence()
        after = self.by_name()
        for name, alarm in after.items():
            assert (alarm.active, alarm.latched) == (before[name].active, before[name].latched)
        assert all(not before[name].active and not before[name].latched for name in before.keys() - after)
        assert {change.what for change in changes} <= {"acknowledged" if act == "acknowledge" else "silenced"}

    @rule()
    def reset(self) -> None:
        latched = [alarm for alarm in self.book.alarms() if alarm.latched]
        changes = self.book.reset(self.now_s)
        if any(alarm.active or not alarm.acknowledged for alarm in latched):
            assert not changes
            assert [alarm for alarm in self.book.alarms() if alarm.latched] == latched
        else:
            assert not self.book.latched

    @rule(name=st.sampled_from([*NAMES, *REASONS]), for_s=st.sampled_from([60.0, 1800.0, 1801.0, 1e9, -1.0]))
    def shelve(self, name: str, for_s: float) -> None:
        changes = self.book.shelve(name, self.now_s, for_s)
        if name not in ADVICES or not 0.0 < for_s <= MOST_SHELVED_S:
            assert not changes

    @rule()
    def unshelve(self) -> None:
        self.book.unshelve(self.now_s)
        assert all(alarm.shelved_until_s is None for alarm in self.book.alarms())

    @rule()
    def next_segment(self) -> None:
        before = {alarm.name for alarm in self.book.alarms() if alarm.active or alarm.latched}
        self.book.new_segment()
        assert before == {alarm.name for alarm in self.book.alarms()}

    @invariant()
    def what_stands_is_worth_it(self) -> None:
        """Only advice is put aside; worst first; what is folded lies beneath an alarm that stands."""
        alarms = self.book.alarms()
        names = {alarm.name for alarm in alarms}
        for alarm in alarms:
            assert alarm.active or alarm.latched or not alarm.acknowledged
            assert alarm.cause is None or alarm.cause in names
            if alarm.shelved_until_s is not None:
                assert alarm.priority == ADVICE
                assert alarm.shelved_until_s <= self.now_s + MOST_SHELVED_S
        causes = [alarm for alarm in alarms if alarm.cause is None]
        assert [alarm.priority for alarm in causes] == sorted(alarm.priority for alarm in causes)


FEW = settings(
    max_examples=100, stateful_step_count=50, deadline=None, suppress_health_check=list(HealthCheck)
)
MANY = settings(FEW, max_examples=10_000, stateful_step_count=100)

SegmentRules.TestCase.settings = FEW
TestSegmentRules = SegmentRules.TestCase
AlarmRules.TestCase.settings = FEW
TestAlarmRules = AlarmRules.TestCase


class LongSegmentRules(SegmentRules):
    """The same, for longer."""


class LongAlarmRules(AlarmRules):
    """The same, for longer."""


LongSegmentRules.TestCase.settings = LongAlarmRules.TestCase.settings = MANY
TestLongSegmentRules = pytest.mark.long(pytest.mark.timeout(7200)(LongSegmentRules.TestCase))
TestLongAlarmRules = pytest.mark.long(pytest.mark.timeout(7200)(LongAlarmRules.TestCase))
