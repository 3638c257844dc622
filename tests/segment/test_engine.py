"""The engine: events in, commands out, every time by the table."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.errors import IllegalEvent
from benchctl.models.recipe import SegmentPlan
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
from benchctl.segment.states import ENDING, LIMITS, TABLE, TURNING, On, State, allowed


def plan(**changes: object) -> SegmentPlan:
    """A segment of 16 minutes at 26 rpm, in three speeds."""
    fields = {"creep_speed": "6 rpm", "step_speed": "14 rpm", "work_speed": "26 rpm", "length": "16 min"}
    return SegmentPlan.model_validate(fields | changes)


def started(**changes: object) -> SegmentEngine:
    """An engine whose table was told to turn at 2 s."""
    engine = SegmentEngine(plan(**changes))
    for now_s, event in ((0.0, On.ARM), (0.1, On.BOARD_ARMED), (1.9, On.RUN), (2.0, On.BOARD_RUNNING)):
        engine.handle(event, now_s)
    return engine


def polishing(**changes: object) -> SegmentEngine:
    """An engine that has reached its working speed at 40 s."""
    engine = started(**changes)
    for now_s, event in ((20.0, On.LAP_TRUE), (30.0, On.AT_STEP), (40.0, On.AT_WORK)):
        engine.handle(event, now_s)
    assert engine.state is State.POLISH
    return engine


def speeds(commands: list[Command]) -> list[float]:
    return [command.rpm for command in commands if isinstance(command, SetSpeed)]


def test_start_takes_two_acts_and_the_record_comes_first() -> None:
    """RUN alone does nothing; after ARM and RUN the record is opened before the board is told to turn."""
    engine = SegmentEngine(plan())
    with pytest.raises(IllegalEvent, match="ready does not allow 'run'"):
        engine.handle(On.RUN, 0.0)
    assert engine.state is State.READY
    engine.handle(On.ARM, 0.0)
    engine.handle(On.BOARD_ARMED, 0.1)
    commands = engine.handle(On.RUN, 1.0)
    assert [type(command) for command in commands] == [OpenRecord, RunBoard]
    assert commands[1] == RunBoard(6.0, call_after_s=900.0, end_after_s=960.0, wait_s=93.0)


def test_armed_is_valid_for_ten_seconds() -> None:
    """Armed and not run, it is ready again after ten seconds, and the board is told so."""
    engine = SegmentEngine(plan())
    engine.handle(On.ARM, 0.0)
    engine.handle(On.BOARD_ARMED, 0.5)
    assert engine.tick(10.4) == []
    commands = engine.tick(10.5)
    assert engine.state is State.READY
    assert any(isinstance(command, StopBoard) for command in commands)


def test_speeds_rise_in_steps_once_the_lap_is_true() -> None:
    """Creep, the step, the working speed: each after its own event."""
    engine = started()
    assert speeds(engine.handle(On.LAP_TRUE, 20.0)) == [14.0]
    assert speeds(engine.handle(On.AT_STEP, 30.0)) == [26.0]
    engine.handle(On.AT_WORK, 40.0)
    assert engine.state is State.POLISH


def test_ramp_waits_for_the_person_where_the_plan_says_so() -> None:
    """With ask_before_ramp the table stays at creep until the person lets it speed up, for two minutes."""
    engine = started(ask_before_ramp=True)
    assert speeds(engine.handle(On.LAP_TRUE, 20.0)) == []
    assert engine.state is State.OFFERED
    assert speeds(engine.handle(On.SPEED_UP, 30.0)) == [14.0]
    engine = started(ask_before_ramp=True)
    engine.handle(On.LAP_TRUE, 20.0)
    engine.tick(140.0)
    assert (engine.state, engine.stop_reason) == (State.STOPPING, "offer_unanswered")


def test_answered_wet_down_runs_on_to_the_end_and_stops_as_planned() -> None:
    """Called 60 s before the end, answered: the water runs in until the time is up, then a planned stop."""
    engine = polishing()
    assert engine.tick(901.9) == []
    engine.tick(902.0)
    assert (engine.state, engine.wet_down) == (State.WET_DOWN, "unanswered")
    engine.handle(On.WETTED, 910.0)
    assert engine.tick(961.9) == []
    commands = engine.tick(962.0)
    assert StopBoard(planned=True, reason="planned_end") in commands
    closing = engine.handle(On.AT_REST, 966.0)[-1]
    assert closing == CloseRecord("completed", None, "planned", "answered", rest_seen=True)


def test_unanswered_wet_down_creeps_and_calls_then_stops() -> None:
    """Nobody wets: at the end it creeps at 8 rpm or less for at most 90 s, then stops, recorded as such."""
    engine = polishing()
    engine.tick(902.0)
    commands = engine.tick(962.0)
    assert engine.state is State.WAITING
    assert speeds(commands) == [6.0]
    assert engine.tick(1051.9) == []
    assert StopBoard(planned=False, reason="end_unanswered") in engine.tick(1052.0)
    closing = engine.handle(On.AT_REST, 1055.0)[-1]
    assert closing == CloseRecord(
        "stopped", "end_unanswered", "controlled_then_off", "unanswered", rest_seen=True
    )


def test_late_answer_while_creeping_is_a_planned_stop() -> None:
    """Wetted while it waits: it slows down as planned and counts as answered."""
    engine = polishing()
    engine.tick(902.0)
    engine.tick(962.0)
    assert StopBoard(planned=True, reason="planned_end") in engine.handle(On.WETTED, 1000.0)
    assert (engine.state, engine.wet_down) == (State.SLOW_DOWN, "answered")


@pytest.mark.parametrize("state", TURNING)
def test_stop_is_allowed_wherever_the_table_turns(state: State) -> None:
    """STOP, a trip and the board's own stop lead out of every turning state at once."""
    for event in (On.STOP, On.TRIP, On.BOARD_STOPPED):
        assert TABLE[state, event].to is State.STOPPING


@pytest.mark.parametrize("state", list(State))
def test_stop_is_never_illegal(state: State) -> None:
    """There is no state in which STOP is refused, but while the start is being asked for it disarms."""
    assert (state, On.STOP) in TABLE


def test_every_state_that_waits_has_a_limit() -> None:
    """A state that a person's act leads out of lasts no longer than its limit in the table."""
    personal = {On.ARM, On.RUN, On.SPEED_UP, On.GO_ON, On.LIFTED, On.LOOKED}
    for state in State:
        waits = any(TABLE[state, event].to is not state for event in personal if (state, event) in TABLE)
        assert not waits or (state in LIMITS and (state, On.LIMIT) in TABLE), state


def test_every_row_names_an_act_and_every_state_can_end() -> None:
    """Each row's act exists, and from each state there is a way to `closed`."""
    engine = SegmentEngine(plan())
    assert {row.act for row in TABLE.values()} <= set(engine._acts)
    reach = {State.CLOSED}
    while True:
        more = {state for (state, _), row in TABLE.items() if row.to in reach} - reach
        if not more:
            break
        reach |= more
    assert reach == set(State)


def test_first_cause_stays() -> None:
    """A stop by the guard keeps its reason, whatever the board reports afterwards."""
    engine = polishing()
    engine.handle(On.TRIP, 100.0, reason="lap_stalled")
    engine.handle(On.BOARD_STOPPED, 100.5, reason="permit_expired", kind="controlled_then_off")
    closing = engine.handle(On.AT_REST, 103.0)[-1]
    assert isinstance(closing, CloseRecord)
    assert (closing.stop_reason, closing.outcome) == ("lap_stalled", "stopped")


def test_speed_is_trimmed_within_limits() -> None:
    """Slower and faster change the speed by 1 rpm, never under creep, never over the plan's ceiling."""
    engine = polishing(ceiling="27 rpm")
    assert speeds(engine.handle(On.FASTER, 50.0)) == [27.0]
    assert speeds(engine.handle(On.FASTER, 51.0)) == []
    for _ in range(40):
        engine.handle(On.SLOWER, 52.0)
    assert engine.target_rpm == 6.0


def test_easing_never_speeds_up() -> None:
    """What the guard asks for may only lower the speed."""
    engine = polishing()
    assert speeds(engine.handle(On.EASE, 50.0, rpm=40.0)) == []
    assert speeds(engine.handle(On.EASE, 51.0, rpm=10.0)) == [10.0]
    assert speeds(engine.handle(On.EASE, 52.0, rpm=15.0)) == []


ACTS = st.lists(
    st.tuples(st.sampled_from(list(On)), st.floats(0.01, 400.0)), min_size=1, max_size=60
)  # what happens, and how long after the event before it


@given(ACTS)
@settings(max_examples=400, deadline=None)
def test_no_row_of_events_turns_the_table_unbidden(acts: list[tuple[On, float]]) -> None:
    """Whatever happens in whatever order: RunBoard only after ARM and RUN, no speed outside the plan,
    nothing but a stop is sent once a stop began, an illegal event changes nothing."""
    engine, now_s = SegmentEngine(plan()), 0.0
    armed = stopping = False
    for event, later_s in acts:
        now_s += later_s
        for commands in (engine.tick(now_s), attempt(engine, event, now_s)):
            for command in commands:
                if isinstance(command, RunBoard):
                    assert armed
                    assert not stopping
                if isinstance(command, SetSpeed):
                    assert not stopping
                    assert engine.plan.creep_rpm <= command.rpm <= engine.plan.ceiling_rpm
            stopping = stopping or engine.state in ENDING
            armed = armed or engine.state is State.ARMED


def attempt(engine: SegmentEngine, event: On, now_s: float) -> list[Command]:
    """Handle an event, or see that a refused one changed nothing."""
    details = {"reason": "overload", "kind": "power_off", "rpm": 9.0, "why": "x"}
    if event in allowed(engine.state):
        return engine.handle(event, now_s, **details)
    before = (engine.state, engine.target_rpm, engine.entered_s)
    with pytest.raises(IllegalEvent):
        engine.handle(event, now_s, **details)
    assert (engine.state, engine.target_rpm, engine.entered_s) == before
    return []


def wetting(engine: SegmentEngine, now_s: float) -> list[Command]:
    """The lap jerks to a standstill each turn: end before the time, wetted."""
    return engine.handle(On.WET_AND_STOP, now_s, reason="lap_jerky")


def test_cut_short_it_creeps_and_calls_and_stops_gently_once_wetted() -> None:
    """Water first, then a planned stop; the segment counts as stopped, for its cause."""
    engine = polishing()
    assert speeds(wetting(engine, 100.0)) == [6.0]
    assert (engine.state, engine.wet_down) == (State.WAITING, "unanswered")
    [stop] = [c for c in engine.handle(On.WETTED, 120.0) if isinstance(c, StopBoard)]
    assert (stop.planned, stop.reason) == (True, "lap_jerky")
    assert (engine.outcome, engine.stop_reason, engine.stop_kind) == ("stopped", "lap_jerky", "planned")
    assert engine.water_answer_s == 20.0


@pytest.mark.parametrize(("waits", "most_s"), [("0 s", 30.0), ("90 s", 90.0)])
def test_cut_short_and_not_wetted_it_stops_after_its_wait(waits: str, most_s: float) -> None:
    """After the plan's waiting time, but never before 30 s: a controlled stop for the same cause."""
    engine = polishing(wait_unanswered=waits)
    wetting(engine, 100.0)
    assert engine.tick(100.0 + most_s - 0.1) == []
    engine.tick(100.0 + most_s)
    assert (engine.state, engine.stop_reason) == (State.STOPPING, "lap_jerky")
    assert engine.stop_kind == "controlled_then_off"


def test_cut_short_while_the_water_runs_in_it_stops_at_once() -> None:
    """The work is wet already: a gentle stop for the cause, without another call."""
    engine = polishing()
    engine.tick(2.0 + 900.0)
    engine.handle(On.WETTED, 905.0)
    wetting(engine, 910.0)
    assert (engine.state, engine.stop_reason, engine.wet_down) == (State.SLOW_DOWN, "lap_jerky", "answered")


def test_cut_short_after_the_call_it_is_not_called_twice() -> None:
    """Water was called for and not brought yet: the call goes on, slower."""
    engine = polishing()
    engine.tick(2.0 + 900.0)
    commands = wetting(engine, 910.0)
    assert engine.state is State.WAITING
    assert [c.event for c in commands if isinstance(c, Note)] == ["cut_short", "waiting_for_water"]
    engine.handle(On.WETTED, 915.0)
    assert engine.water_answer_s == pytest.approx(13.0)


@pytest.mark.parametrize(("ceiling_rpm", "armed_for"), [(39.0, 39.0), (60.0, 45.0), (float("inf"), 45.0)])
def test_the_board_is_armed_with_the_lowest_ceiling(ceiling_rpm: float, armed_for: float) -> None:
    """The job's own, or a lower one of board or weights; never a higher one."""
    engine = SegmentEngine(plan())
    assert engine.handle(On.ARM, 0.0, ceiling_rpm=ceiling_rpm) == [ArmBoard(armed_for)]


def test_a_speed_outside_its_limits_is_refused_with_them() -> None:
    """Faster past the ceiling and slower than creep change nothing and say why."""
    engine = polishing(ceiling="26.5 rpm")
    [note] = engine.handle(On.FASTER, 50.0)
    assert isinstance(note, Note)
    assert "27 rpm is outside 6 to 26.5 rpm" in str(dict(note.details)["why"])
    assert engine.target_rpm == 26.0


def test_what_cut_a_segment_short_stays_its_first_cause() -> None:
    """A table that does not come to rest in time makes the stop harder; the record keeps the first cause."""
    engine = polishing()
    wetting(engine, 100.0)
    engine.handle(On.WETTED, 120.0)
    [stop] = [command for command in engine.tick(150.1) if isinstance(command, StopBoard)]
    assert (engine.state, stop.planned, stop.reason) == (State.STOPPING, False, "rest_not_reached")
    assert (engine.stop_reason, engine.stop_kind) == ("lap_jerky", "controlled_then_off")
