"""What is called, and the three acts of a person at it."""

from __future__ import annotations

import pytest

from benchctl.segment.states import State
from benchctl.session.acts import Act
from tests.session.driven import Driven


def pattern(bench: Driven) -> str | None:
    """What sounds now: the pattern of buzzer and lamp, None for quiet."""
    call = bench.shot.call
    return None if call is None or call.silenced else call.pattern


def to_the_call(bench: Driven) -> None:
    """Polishing until water is called for."""
    bench.polish()
    bench.until(lambda: bench.state is State.WET_DOWN, 400.0)


def test_silence_quiets_the_call_and_leaves_it_standing(bench: Driven) -> None:
    """The words stay; the board's buzzer goes quiet; 15 s later it sounds again."""
    to_the_call(bench)
    bench.go(1.0)
    assert bench.plant.board.call == "wet_down"
    bench.do(Act.SILENCE)
    bench.go(1.0)
    assert pattern(bench) is None
    assert bench.shot.call is not None
    assert bench.plant.board.call != "wet_down"
    bench.go(15.0)
    assert pattern(bench) == "wet_down"


def test_acknowledging_the_call_for_water_is_not_wetting(bench: Driven) -> None:
    """It is quiet for 15 s and still stands; only wetting answers it."""
    to_the_call(bench)
    bench.do(Act.ACKNOWLEDGE)
    assert bench.shot.call is not None
    assert pattern(bench) is None
    assert bench.runner.engine.wet_down == "unanswered"
    bench.go(16.0)
    assert pattern(bench) == "wet_down"
    bench.do(Act.WETTED)
    assert bench.runner.engine.wet_down == "answered"
    bench.go(1.0)
    assert bench.shot.call is None


def test_a_fault_is_called_over_the_call_for_water(bench: Driven) -> None:
    """However quiet the one was made, the other sounds."""
    to_the_call(bench)
    bench.do(Act.SILENCE)
    bench.play("overload")
    bench.until(lambda: bench.state is State.STOPPING, 20.0)
    bench.go(0.5)
    assert pattern(bench) == "fault"


@pytest.mark.parametrize("act", [Act.SILENCE, Act.ACKNOWLEDGE, Act.RESET, Act.SHELVE, Act.UNSHELVE])
def test_none_of_the_acts_at_alarms_changes_motion(bench: Driven, act: Act) -> None:
    """While it polishes with a warning on, each leaves speed, state and plan as they are."""
    bench.polish()
    bench.play("noisy-cable")
    bench.until(lambda: bench.alarm("cable_noisy") is not None, 60.0)
    before = (bench.state, bench.runner.engine.target_rpm, bench.runner.engine.ends_at_s())
    bench.do(act)
    bench.go(3.0)
    assert (bench.state, bench.runner.engine.target_rpm, bench.runner.engine.ends_at_s()) == before
    assert bench.rpm == pytest.approx(26.0, abs=0.5)


def test_wetting_answers_what_asked_for_water(bench: Driven) -> None:
    """Due wettings are called every 15 s until somebody wets; then not for four minutes."""
    bench.polish()
    bench.until(lambda: pattern(bench) == "caution", 400.0)
    assert bench.shot.call is not None
    assert bench.shot.call.title == "WETTING IS DUE"
    assert bench.shot.alarms == ()
    bench.do(Act.WETTED)
    bench.go(0.5)
    assert bench.shot.call is None


def test_a_short_press_of_the_pedal_answers_and_never_starts(bench: Driven) -> None:
    """At the call for water it means wetted; with the segment ready it means nothing."""
    bench.go(2.0)
    bench.plant.press_pedal()
    assert bench.stays_at_rest(2.0)
    to_the_call(bench)
    bench.plant.press_pedal()
    bench.until(lambda: bench.state is State.RUNNING_IN, 3.0)


def test_the_end_is_called_until_the_lap_is_lifted(bench: Driven) -> None:
    """At rest: slide the lap off; lifted, it is quiet."""
    to_the_call(bench)
    bench.do(Act.WETTED)
    bench.until(lambda: bench.state is State.STANDING, 100.0)
    bench.go(0.5)
    assert pattern(bench) == "end"
    bench.do(Act.LIFTED)
    bench.go(0.5)
    assert bench.shot.call is None
