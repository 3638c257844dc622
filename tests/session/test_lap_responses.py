"""What the program does for each state of the lap: warn, offer, slow, call for water, stop by ramp."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from benchctl.lapwatch import Verdict
from benchctl.segment.states import State
from benchctl.session.acts import Act
from tests.session.driven import Driven


def says(bench: Driven, monkeypatch: pytest.MonkeyPatch, state: str, **reading: Any) -> None:
    """From now on the watcher says this; all else of the bench goes on as it does."""
    steady = bench.runner.verdict
    shown = replace(steady, state=state, **reading)  # type: ignore[arg-type]
    monkeypatch.setattr(type(bench.runner.watch), "verdict", property(lambda _: shown))


def reason(bench: Driven) -> tuple[str | None, str]:
    """Why and how the segment was stopped."""
    engine = bench.runner.engine
    return engine.stop_reason, engine.stop_kind


def test_a_jerking_lap_is_told_and_a_slower_speed_offered(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Jerky: "wet it or slow down", and four fifths of the speed for the taking; nothing by itself."""
    bench.polish()
    says(bench, monkeypatch, "jerky", severity=0.4)
    bench.go(20.0)
    shot = bench.shot
    assert [alarm.name for alarm in shot.alarms] == ["lap_jerky"]
    assert shot.offered_rpm == pytest.approx(0.8 * 26.0)
    assert Act.TAKE_SLOWER in shot.allowed
    assert bench.runner.engine.target_rpm == 26.0
    bench.do(Act.TAKE_SLOWER)
    assert bench.runner.engine.target_rpm == pytest.approx(20.8)
    bench.go(5.0)
    assert bench.rpm == pytest.approx(20.8, abs=0.3)
    assert bench.names().count("took_slower") == 1


def test_wetting_is_the_answer_to_a_jerking_lap(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wetted, the alarm is seen and calls no more; going on for a minute it is told again."""
    bench.polish()
    says(bench, monkeypatch, "jerky", severity=0.4)
    bench.go(1.0)
    assert bench.shot.call is not None
    bench.do(Act.WETTED)
    alarm = bench.alarm("lap_jerky")
    assert alarm is not None
    assert alarm.acknowledged
    assert bench.shot.call is None
    bench.go(61.0)
    assert bench.shot.call is not None


def test_nothing_is_offered_for_a_lap_that_spins_true(bench: Driven) -> None:
    """The act is not there, and does nothing."""
    bench.polish()
    assert bench.shot.offered_rpm is None
    bench.do(Act.TAKE_SLOWER)
    assert bench.runner.engine.target_rpm == 26.0


def test_a_lap_that_jerks_hard_is_slowed_by_itself_once(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over 0.6 for three turns: to 60 % of the speed; not further in the same breath."""
    bench.polish()
    says(bench, monkeypatch, "jerky", severity=0.7)
    bench.until(lambda: bench.runner.engine.target_rpm < 26.0, 30.0)
    assert bench.runner.engine.target_rpm == pytest.approx(0.6 * 26.0)
    bench.go(3.0)
    assert bench.runner.engine.target_rpm == pytest.approx(0.6 * 26.0)


def test_a_lap_that_stops_each_turn_is_wetted_then_stopped(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At severity 1 for three turns it creeps and calls for water; wetted, a planned stop follows."""
    bench.polish()
    says(bench, monkeypatch, "jerky", severity=1.1)
    bench.until(lambda: bench.state is State.WAITING, 30.0)
    shot = bench.shot
    assert shot.call is not None
    assert shot.call.pattern == "wet_down"
    bench.go(5.0)
    assert bench.rpm == pytest.approx(6.0, abs=0.3)
    bench.do(Act.WETTED)
    assert bench.state is State.SLOW_DOWN
    assert reason(bench) == ("lap_jerky", "planned")
    bench.until(lambda: bench.state is State.STANDING, 20.0)
    record = bench.runner.books.record
    assert record is not None
    assert (record.outcome, record.wet_down, record.water_answer_s) == (
        "stopped",
        "answered",
        pytest.approx(5.1, abs=0.3),
    )


def test_where_nobody_wets_it_the_stop_comes_all_the_same(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the waiting time: a controlled stop for the same reason, recorded as unwetted."""
    bench.polish()
    says(bench, monkeypatch, "jerky", severity=1.1)
    bench.until(lambda: bench.state is State.WAITING, 30.0)
    assert bench.until(lambda: bench.state is State.STOPPING, 120.0) == pytest.approx(90.0, abs=1.0)
    assert reason(bench) == ("lap_jerky", "controlled_then_off")
    assert bench.runner.engine.wet_down == "unanswered"


def test_a_silent_sensor_asks_the_person_and_stops_without_an_answer(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told at once, slower after 20 s, a controlled stop after 30 s."""
    bench.polish()
    says(bench, monkeypatch, "no_signal")
    bench.go(1.0)
    assert {Act.WATCHING, Act.LAP_STANDS} <= bench.shot.allowed
    assert bench.until(lambda: bench.runner.engine.target_rpm == 10.0, 40.0) == pytest.approx(19.0, abs=0.5)
    assert bench.until(lambda: bench.state is State.STOPPING, 40.0) == pytest.approx(10.0, abs=0.5)
    assert reason(bench) == ("lap_sensor_dead", "controlled_then_off")


def test_i_am_watching_is_honoured_for_five_minutes_and_logged(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stop is held off, advice says for how long; once that is over, the question comes again."""
    bench.polish()
    says(bench, monkeypatch, "no_signal")
    bench.go(5.0)
    bench.do(Act.WATCHING)
    bench.go(60.0)
    assert bench.runner.engine.turning
    assert bench.names().count("watching") == 1
    [alarm] = [one for one in bench.shot.alarms if one.active]
    assert (alarm.name, alarm.priority) == ("lap_watched", 3)
    assert bench.runner.engine.target_rpm == 26.0
    bench.until(lambda: bench.state is State.STOPPING, 260.0)
    assert reason(bench)[0] == "lap_sensor_dead"
    watched_s = float(str(bench.told("stopping")[0]["at_s"])) - float(str(bench.told("watching")[0]["at_s"]))
    assert watched_s == pytest.approx(300.0, abs=1.0)


def test_watching_does_not_hold_off_a_stop_for_another_cause(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Said for the silent sensor, it does not cover an overload."""
    bench.polish()
    says(bench, monkeypatch, "no_signal")
    bench.go(1.0)
    bench.do(Act.WATCHING)
    assert bench.runner.at.watching_since_s is not None
    bench.play("overload")
    bench.until(lambda: bench.state is State.STOPPING, 10.0)
    assert reason(bench) == ("overload", "power_off")


def test_nobody_watches_in_advance(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """Said while the sensor works, it counts for nothing when the sensor falls silent later."""
    bench.polish()
    bench.do(Act.WATCHING)
    assert "watching" not in bench.names()
    says(bench, monkeypatch, "no_signal")
    assert bench.until(lambda: bench.state is State.STOPPING, 40.0) == pytest.approx(30.0, abs=0.5)


def test_the_lap_stands_stops_the_table_at_once(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other answer: a controlled stop for a stalled lap."""
    bench.polish()
    says(bench, monkeypatch, "no_signal")
    bench.go(2.0)
    bench.do(Act.LAP_STANDS)
    assert reason(bench) == ("lap_stalled", "controlled_then_off")
    assert bench.state is State.STOPPING


def test_no_speed_is_raised_while_the_lap_settles(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """Faster is refused in one sentence until the lap spins true."""
    bench.polish()
    says(bench, monkeypatch, "settling")
    bench.go(1.0)
    bench.do(Act.FASTER)
    assert bench.runner.engine.target_rpm == 26.0
    assert "settling" in bench.shot.refusal
    says(bench, monkeypatch, "steady")
    bench.go(1.0)
    bench.do(Act.FASTER)
    assert bench.runner.engine.target_rpm == 27.0
    assert bench.shot.refusal == ""


def test_a_speed_past_the_ceiling_is_refused_not_clamped(bench: Driven) -> None:
    """Faster stops short of the ceiling and says so."""
    bench.polish()
    bench.runner.engine.ceiling_rpm = 26.5
    bench.do(Act.FASTER)
    assert bench.runner.engine.target_rpm == 26.0
    assert "27 rpm is outside 6 to 26.5 rpm" in str(bench.told("refused")[0]["why"])


def test_a_new_level_is_accepted_only_when_the_watcher_can(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A tighter post slows the lap; once it turned calmly so for long, the person may accept it."""
    bench.polish()
    bench.do(Act.ACCEPT_LEVEL)
    assert "20 turns" in bench.shot.refusal
    assert "level_accepted" not in bench.names()
    plant = bench.plant.plant
    plant.post.extra_nm = 0.25 * plant.friction * plant.face.stall_nm
    bench.until(lambda: Act.ACCEPT_LEVEL in bench.shot.allowed, 200.0)
    before = bench.runner.verdict.reference_ratio
    bench.do(Act.ACCEPT_LEVEL)
    after = bench.runner.verdict.reference_ratio
    assert before is not None
    assert after is not None
    assert after < 0.9 * before
    assert bench.told("level_accepted")[0]["spin_ratio"] == after


def test_a_weak_pickup_is_advice_that_can_be_put_aside(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told once, without a sound; shelved it is gone from the lines, and back with the end of the segment."""
    bench.polish()
    says(bench, monkeypatch, "weak_signal", weak_share=0.2)
    bench.go(2.0)
    shot = bench.shot
    assert [(alarm.name, alarm.priority) for alarm in shot.alarms] == [("lap_signal_weak", 3)]
    assert shot.call is None
    bench.do(Act.SHELVE)
    assert bench.shot.alarms == ()
    assert [alarm.name for alarm in bench.shot.shelved] == ["lap_signal_weak"]
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING, 20.0)
    assert bench.shot.shelved == ()
    assert "alarm_unshelved" in bench.names()


def test_a_stop_cannot_be_shelved(bench: Driven) -> None:
    """The refusal says why, and the stop stands."""
    bench.polish()
    bench.play("lap-stall")
    bench.until(lambda: bench.state is State.STANDING, 60.0)
    bench.do(Act.SHELVE, "lap_stalled")
    assert "only advice can be shelved" in bench.shot.refusal
    assert [alarm.name for alarm in bench.shot.alarms] == ["lap_stalled"]


def test_a_lap_off_its_post_stops_by_ramp(bench: Driven) -> None:
    """The load goes and the lap runs with the mirror: a controlled stop, and "stay back"."""
    bench.polish()
    bench.play("off-post")
    bench.until(lambda: bench.state is State.STOPPING, 10.0)
    assert reason(bench) == ("lap_off", "controlled_then_off")
    assert "Stay back" in bench.shot.do_now
    bench.until(lambda: bench.state is State.STANDING, 30.0)
    bench.go(2.0)
    assert bench.shot.folded == ()
    assert bench.told("board_stopped") == []


def test_verdicts_are_the_watchers_own(bench: Driven) -> None:
    """`says` changes what is said and nothing else: without it the lap spins true."""
    bench.polish()
    assert isinstance(bench.runner.verdict, Verdict)
    bench.go(30.0)
    assert bench.shot.alarms == ()
