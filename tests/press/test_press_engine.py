"""The cold press as a state machine: every row of its table, its times, its sums."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from benchctl.errors import IllegalEvent
from benchctl.press.case import PressCase
from benchctl.press.engine import PressEngine
from benchctl.press.states import LIMITS, TABLE, On, State

PLAIN = PressCase(
    mirror="m",
    lap="l",
    length_s=1320.0,
    load_kg=9.0,
    load_n=140.0,
    rewet_every_s=360.0,
    first_place_m=0.128,
)
SHIFTED = PressCase(**vars(PLAIN) | {"shift_at_s": 660.0, "shift_by_m": 0.062, "second_place_m": 0.066})
WAYS: dict[State, tuple[On, ...]] = {
    State.FIRST: (),
    State.SHIFT: (On.SHIFT_CALL,),
    State.SECOND: (On.SHIFT_CALL, On.SHIFTED),
    State.OFF: (On.TIME_UP,),
    State.CLOSED: (On.END,),
}
"""How each state is reached from the first."""


def brought_to(state: State, case: PressCase = SHIFTED) -> PressEngine:
    """An engine in this state, everything having happened at time 0."""
    engine = PressEngine(case, 0.0)
    for event in WAYS[state]:
        engine.handle(event, 0.0)
    assert engine.state is state
    return engine


@pytest.mark.parametrize("state", list(State))
@pytest.mark.parametrize("event", list(On))
def test_each_event_leads_where_the_table_says_or_is_refused(state: State, event: On) -> None:
    """An event that a state does not list raises, names the state, and changes nothing."""
    engine = brought_to(state)
    before = engine.sums(5.0)
    row = TABLE.get((state, event))
    if row is not None:
        engine.handle(event, 5.0)
        assert engine.state is row.to
        return
    with pytest.raises(IllegalEvent, match=state):
        engine.handle(event, 5.0)
    assert (engine.state, engine.sums(5.0)) == (state, before)


def test_a_state_that_waits_for_a_person_has_a_limit() -> None:
    """Waiting for the shift and for the lap to come off both end by themselves."""
    assert set(LIMITS) == {State.SHIFT, State.OFF}
    assert all((state, On.LIMIT) in TABLE for state in LIMITS)


def test_a_press_without_shift_runs_to_its_end() -> None:
    """Nobody is called before the time is up, and a shift means nothing."""
    engine = PressEngine(PLAIN, 100.0)
    assert not engine.allows(On.SHIFTED)
    assert [one.event for one in engine.tick(1419.9)] == ["rewet_called"]
    assert [one.event for one in engine.tick(1420.0)] == ["press_time_up"]
    engine.handle(On.LIFTED, 1432.0)
    sums = engine.sums(2000.0)
    assert (engine.outcome, sums["length_s"], sums["over_s"], sums["second_place_s"]) == (
        "completed",
        1332.0,
        12.0,
        0.0,
    )


def test_the_second_place_gets_its_whole_half_however_late_the_shift() -> None:
    """Shifted 40 s late, the lap lies 700 s at the first place and 660 s at the second."""
    engine = PressEngine(SHIFTED, 0.0)
    assert "shift_called" in [one.event for one in engine.tick(660.0)]
    engine.handle(On.SHIFTED, 700.0)
    engine.tick(1359.0)
    assert engine.state is State.SECOND
    engine.tick(1360.0)
    assert engine.state is State.OFF
    engine.handle(On.LIFTED, 1360.0)
    sums = engine.sums(1360.0)
    assert (sums["first_place_s"], sums["second_place_s"], sums["shifted"]) == (700.0, 660.0, True)


def test_nobody_shifts_and_nobody_lifts() -> None:
    """The call for the shift lasts as long as the second half; an hour later the press closes by itself."""
    engine = PressEngine(SHIFTED, 0.0)
    engine.tick(660.0)
    engine.tick(1319.0)
    assert engine.state is State.SHIFT
    engine.tick(1320.0)
    assert engine.state is State.OFF
    engine.tick(1320.0 + 3599.0)
    assert not engine.closed
    engine.tick(1320.0 + 3600.0)
    assert (engine.outcome, engine.sums(0.0)["shifted"]) == ("not_lifted", False)


def test_water_is_called_again_only_after_a_wetting() -> None:
    """One call each time the edge is due; a shift counts as a wetting."""
    engine = PressEngine(SHIFTED, 0.0)
    assert [one.event for one in engine.tick(360.0)] == ["rewet_called"]
    assert engine.tick(400.0) == []
    engine.handle(On.WETTED, 410.0)
    assert not engine.rewet_due(769.0)
    engine.tick(660.0)
    engine.handle(On.SHIFTED, 665.0)
    assert engine.wettings == 2
    assert not engine.rewet_due(1024.0)
    assert engine.rewet_due(1025.0)


class AnyPress(RuleBasedStateMachine):
    """Whatever people do and whenever, the times add up and the order of the work holds."""

    @initialize(shift=st.booleans())
    def begin(self, shift: bool) -> None:
        self.now_s = 0.0
        self.engine = PressEngine(SHIFTED if shift else PLAIN, 0.0)
        self.seen = [State.FIRST]

    @rule(by_s=st.floats(0.0, 2000.0))
    def time_passes(self, by_s: float) -> None:
        self.now_s += by_s
        self.engine.tick(self.now_s)
        self.note()

    @precondition(lambda self: not self.engine.closed)
    @rule(event=st.sampled_from([On.SHIFTED, On.WETTED, On.LIFTED, On.END]))
    def person(self, event: On) -> None:
        if self.engine.allows(event):
            self.engine.handle(event, self.now_s)
        self.note()

    def note(self) -> None:
        if self.engine.state is not self.seen[-1]:
            self.seen.append(self.engine.state)

    @invariant()
    def it_adds_up(self) -> None:
        sums = self.engine.sums(self.now_s)
        assert sums["length_s"] == pytest.approx(sums["first_place_s"] + sums["second_place_s"], abs=0.11)
        order = list(State)
        assert [order.index(one) for one in self.seen] == sorted(order.index(one) for one in self.seen)
        assert self.engine.closed == (self.engine.outcome is not None)


TestAnyPress = AnyPress.TestCase
TestAnyPress.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)


@given(st.floats(0.0, 1320.0))
def test_what_is_left_and_what_is_done_make_the_half(at_s: float) -> None:
    """In the first half the time left is the time of the shift less the time gone."""
    engine = PressEngine(SHIFTED, 0.0)
    if at_s < 660.0:
        assert engine.left_s(at_s) == pytest.approx(660.0 - at_s)
    else:
        engine.tick(at_s)
        assert engine.left_s(at_s) == 0.0
