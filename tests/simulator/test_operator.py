"""The scripted person: what is done when, in process and by the pedal."""

from __future__ import annotations

import pytest

from benchctl.errors import BadInput
from benchctl.simulator.operator import KINDS, Operator, Sees
from tests.simulator.raw_host import RawHost, make_bench


def first(operator: Operator, sees: Sees, from_s: float, most_s: float = 200.0) -> tuple[float, list[str]]:
    """Seconds until the operator acts on the same sight, and what it does; (most_s, []) for nothing."""
    at_s = 0.0
    while at_s < most_s:
        if acts := operator.step(from_s + at_s, sees):
            return at_s, acts
        at_s += 0.05
    return most_s, []


@pytest.mark.parametrize("kind", KINDS)
def test_everyone_starts_in_two_acts(kind: str) -> None:
    """Arm, then at least half a second later run, once each."""
    operator = Operator(kind, 1)
    assert first(operator, Sees("ready", None), 0.0)[1] == ["arm"]
    wait_s, acts = first(operator, Sees("armed", None), 2.0)
    assert acts == ["run"]
    assert 0.5 < wait_s < 5.0
    assert first(operator, Sees("ready", None), 10.0, 30.0)[1] == []


def test_a_refused_start_is_tried_again() -> None:
    """Still not armed after two seconds, the person arms again."""
    operator = Operator("attentive", 1)
    assert operator.step(2.0, Sees("ready", None)) == ["arm"]
    assert operator.step(3.0, Sees("ready", None)) == []
    assert operator.step(4.0, Sees("ready", None)) == ["arm"]


@pytest.mark.parametrize(
    ("kind", "state", "act", "least_s", "most_s"),
    [
        ("attentive", "wet_down", "wetted", 2.0, 10.0),
        ("attentive", "waiting", "wetted", 2.0, 10.0),
        ("attentive", "standing", "lifted", 5.0, 25.0),
        ("attentive", "look", "looked", 5.0, 40.0),
        ("attentive", "offered", "speed_up", 1.0, 10.0),
        ("slow", "wet_down", "wetted", 60.0, 90.0),
        ("slow", "standing", "lifted", 30.0, 60.0),
    ],
)
def test_answers_come_in_their_time(kind: str, state: str, act: str, least_s: float, most_s: float) -> None:
    """The attentive one answers within seconds, the slow one late but before the limits."""
    for seed in range(20):
        wait_s, acts = first(Operator(kind, seed), Sees(state, None), 100.0)
        assert acts == [act]
        assert least_s <= wait_s <= most_s


def test_a_slow_answer_outlasts_the_change_of_state() -> None:
    """Called in wet_down, the slow one answers 72 to 78 s later, by then in waiting."""
    operator = Operator("slow", 3)
    assert first(operator, Sees("wet_down", "wet_down"), 0.0, 60.0)[1] == []
    wait_s, acts = first(operator, Sees("waiting", "wet_down"), 60.0, 90.0)
    assert acts == ["wetted"]
    assert 11.0 < wait_s < 19.0


def test_the_reminder_is_answered_by_wetting() -> None:
    """On the reminder to wet, the attentive one wets; without one, nothing is done."""
    operator = Operator("attentive", 1)
    assert first(operator, Sees("polish", None), 0.0, 60.0)[1] == []
    assert first(operator, Sees("polish", "caution"), 60.0)[1] == ["wetted"]


def test_the_absent_one_answers_nothing() -> None:
    """Whatever calls, nothing is done."""
    operator = Operator("absent", 1)
    for state in ("wet_down", "waiting", "standing", "look", "offered", "polish"):
        assert first(operator, Sees(state, "wet_down"), 0.0, 100.0)[1] == []


def test_an_unknown_kind_is_refused() -> None:
    """BadInput names the kinds there are."""
    with pytest.raises(BadInput, match="attentive, slow, absent"):
        Operator("nobody", 1)


def by_pedal(kind: str) -> tuple[RawHost, list[tuple[float, int]]]:
    """A board that calls for water 40 s into a run of 100 s; times of new pedal presses since the call."""
    host = RawHost(make_bench(seed=4, operator=kind))
    host.start(14.0, end_s=100.0)
    presses: list[tuple[float, int]] = []
    while host.bench.now_s < 2.3 + 200.0 and host.bench.board.state == "running":
        host.step()
        assert host.status is not None
        count = host.status.pedal_presses
        if count > (presses[-1][1] if presses else 0):
            presses.append((host.bench.now_s - 42.3, count))
    return host, presses


def test_the_attentive_one_works_the_pedal() -> None:
    """Hearing the call for water, the person wets the glass and presses, in seconds; the buzzer is quiet."""
    host, presses = by_pedal("attentive")
    assert 2.0 < presses[0][0] < 11.0
    wetted_s = 42.3 + presses[0][0]
    assert host.bench.plant.film.wetness > 1.0 - (host.bench.now_s - wetted_s) / 300.0


def test_the_slow_one_works_the_pedal_late() -> None:
    """The slow one presses 70 to 80 s after the call."""
    assert 70.0 < by_pedal("slow")[1][0][0] < 82.0


def test_the_absent_one_does_not() -> None:
    """No press; the board ends the run by itself when its standing time is over."""
    host, presses = by_pedal("absent")
    assert presses == []
    assert host.reason == "planned_end"
    assert host.bench.now_s == pytest.approx(2.3 + 190.0, abs=6.0)


def test_the_lap_is_lifted_once_all_rests() -> None:
    """After a fault, with the table at rest, the person slides the lap off and presses; before a new start
    the lap is laid on again."""
    bench = make_bench("estop@20", seed=4, operator="attentive")
    host = RawHost(bench)
    host.start(14.0)
    host.until(60.0)
    assert host.reason == "estop_open"
    assert not bench.plant.lap_on
    assert host.status is not None
    assert host.status.pedal_presses == 1
    bench.person("arm")
    assert bench.plant.lap_on


def test_a_lap_is_not_lifted_off_a_turning_table() -> None:
    """Lifting is for a resting table only."""
    bench = make_bench()
    host = RawHost(bench)
    host.start(14.0)
    host.until(10.0)
    bench.person("lifted")
    assert bench.plant.lap_on
