"""A wall clock that is set changes no duration; a computer that sleeps ends the segment."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchctl.clock import SteppedClock
from benchctl.guard.timekeeping import Clocks, ClockWatch
from benchctl.logbook.reader import read
from benchctl.segment.states import State
from benchctl.session.acts import Act
from tests.session.driven import Driven

YEAR_S = 365 * 86400.0


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0, YEAR_S, -YEAR_S, 2.5])
def test_a_clock_that_is_set_is_noted_and_changes_nothing(bench: Driven, jump_s: float) -> None:
    """An hour, a year, backwards: advice and a record with the jump; times of the segment as planned."""
    bench.polish()
    clock = bench.parts.clock
    assert isinstance(clock, SteppedClock)
    clock.jump_wall(jump_s)
    bench.go(1.0)
    [event] = bench.told("clock_jump")
    assert event["by_s"] == pytest.approx(jump_s, abs=0.01)
    assert [(alarm.name, alarm.priority) for alarm in bench.shot.alarms] == [("clock_jump", 3)]
    bench.until(lambda: bench.state is State.WET_DOWN, 400.0)
    bench.do(Act.WETTED)
    bench.until(lambda: bench.state is State.STANDING, 100.0)
    record = bench.runner.books.record
    assert record is not None
    assert record.outcome == "completed"
    assert float(str(bench.told("slow_down")[0]["at_s"])) == pytest.approx(360.0, abs=0.3)
    assert record.polishing_s == pytest.approx(362.0, abs=3.0)
    bench.parts.close()
    book = read(bench.parts.keeper.folder)
    assert book.sound
    [kept] = book.of_kind("clock")
    assert kept.fields["what"] == "clock_jump"
    assert [entry.n for entry in book.entries] == sorted(entry.n for entry in book.entries)


def test_a_slow_drift_is_no_jump(bench: Driven) -> None:
    """A clock that the network pulls by half a second every ten is not told."""
    clock = bench.parts.clock
    assert isinstance(clock, SteppedClock)
    for _ in range(10):
        clock.jump_wall(0.5)
        bench.go(10.0)
    assert bench.told("clock_jump") == []


def test_sleep_ends_the_segment_and_nothing_is_resumed(bench: Driven) -> None:
    """Asleep for five minutes: the board stopped long ago; the time polished is the time it turned."""
    bench.polish()
    bench.go(20.0)
    turned_s = bench.runner.tally.polishing_s
    asleep_at = bench.parts.clock.wall()
    bench.play("suspend")
    bench.until(lambda: "suspend" in bench.names(), 400.0)
    bench.until(lambda: bench.state is State.STANDING, 30.0)
    alarm = bench.alarm("computer_slept")
    assert alarm is not None
    assert (alarm.priority, alarm.latched) == (1, True)
    assert "slept 5 min" in alarm.detail
    record = bench.runner.books.record
    assert record is not None
    assert (record.outcome, record.stop_reason) == ("stopped", "computer_slept")
    assert record.polishing_s == pytest.approx(turned_s, abs=3.0)
    assert "slept 5 min" in record.stop_detail
    assert f"ended at {asleep_at.astimezone():%H:%M}" in record.stop_detail
    assert bench.told("suspend")[0]["by_s"] == pytest.approx(300.0, abs=1.0)
    assert bench.stays_at_rest(10.0)
    bench.parts.close()
    [kept] = read(bench.parts.keeper.folder).of_kind("clock")
    assert kept.fields["what"] == "computer_slept"
    assert kept.fields["boot_s"] - kept.fields["by_s"] == pytest.approx(kept.mono_s, abs=1.0)


def test_sleep_while_nothing_turns_is_advice(bench: Driven) -> None:
    """At rest it is told, and the next segment starts as usual."""
    bench.go(3.0)
    clock = bench.parts.clock
    assert isinstance(clock, SteppedClock)
    clock.suspend(600.0)
    bench.stepper.now_s += 600.0
    bench.plant.advance(bench.stepper.now_s)
    bench.go(1.0)
    assert ("computer_slept", 3) in [(alarm.name, alarm.priority) for alarm in bench.shot.alarms]
    bench.start()


@given(st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(0, 1e5), st.floats(0.01, 1000.0)), max_size=20))
def test_jump_and_sleep_are_told_apart(moves: list[tuple[float, float, float]]) -> None:
    """Whatever the clocks do, each jump over 2 s and each sleep over 1 s is told with its size, once."""
    watch, wall, boot, mono = ClockWatch(), 1.8e9, 50.0, 50.0
    watch.see(Clocks(wall, mono, boot))
    for jump, slept, passed in moves:
        wall, boot, mono = wall + passed + slept + jump, boot + passed + slept, mono + passed
        told = {news.name: news.by_s for news in watch.see(Clocks(wall, mono, boot))}
        if abs(abs(jump) - 2.0) > 1e-3:
            assert ("clock_jump" in told) == (abs(jump) > 2.0)
        if abs(slept - 1.0) > 1e-3:
            assert ("computer_slept" in told) == (slept > 1.0)
        for name, size in (("clock_jump", jump), ("computer_slept", slept)):
            if name in told:
                assert told[name] == pytest.approx(size, abs=1e-3)


def test_each_record_has_wall_time_with_offset_and_monotonic_time(bench: Driven) -> None:
    """ISO 8601 with its offset from UTC, and the monotonic seconds beside it."""
    bench.start()
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING, 20.0)
    bench.parts.close()
    for entry in read(bench.parts.keeper.folder).entries:
        assert datetime.fromisoformat(entry.at).astimezone(UTC).year >= 2026
        assert datetime.fromisoformat(entry.at).utcoffset() is not None
        assert entry.mono_s >= 0.0
