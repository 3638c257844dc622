"""A stop is told once, under its first cause, however often the board says it again."""

from __future__ import annotations

from benchctl.segment.states import On, State
from benchctl.session.acts import Act, Done
from tests.session.driven import Driven


def test_a_stop_of_the_boards_is_told_once(bench: Driven) -> None:
    """The board says ten times a second that it has tripped: one event, also once the table stands."""
    bench.start()
    bench.until(lambda: bench.rpm > 5.0)
    bench.play("estop")
    bench.until(lambda: bench.state is State.STANDING)
    bench.go(3.0)
    assert len(bench.told("stopping")) == 1
    assert bench.told("board_stopped") == []
    assert bench.told("stopping")[0]["reason"] == "estop_open"


def test_a_stop_of_the_boards_is_known_as_soon_as_the_table_slows(bench: Driven) -> None:
    """The pedal is held while the table turns fast: the person is told at once, not when it rests."""
    bench.polish()
    bench.play("pedal-stuck")
    bench.until(lambda: bench.plant.truth().board_state == "slowing")
    bench.go(0.3)
    assert bench.rpm > 5.0
    assert bench.state is State.STOPPING
    assert bench.told("stopping")[0]["reason"] == "pedal_stop"


def test_what_the_board_tells_back_is_no_cause(bench: Driven) -> None:
    """Stopped by this program, under a name that the wire spells otherwise: the board's word adds nothing."""
    bench.start()
    bench.until(lambda: bench.rpm > 5.0)
    bench.runner.event(On.TRIP, bench.stepper.host_s, reason="lap_off")
    bench.until(lambda: bench.state is State.STANDING)
    bench.go(3.0)
    assert bench.plant.truth().board_state == "tripped"
    assert bench.told("board_stopped") == []
    record = bench.runner.books.record
    assert record is not None
    assert record.stop_reason == "lap_off"


def test_stop_goes_before_what_was_asked_with_it(bench: Driven) -> None:
    """Of two acts in one step STOP is carried out first, whichever was given first."""
    bench.start()
    bench.runner.do(Done(Act.WETTED))
    bench.runner.do(Done(Act.STOP))
    bench.go(0.3)
    names = bench.names()
    assert names.index("stopping") < names.index("wetted")
