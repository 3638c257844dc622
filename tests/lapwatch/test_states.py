"""The judge of the lap's state: the table is whole, and no alarm floods."""

from __future__ import annotations

from typing import get_args

import pytest

from benchctl.lapwatch.states import ALARMS, SIGNS, TABLE, Judge
from benchctl.lapwatch.verdict import LapState


def steady() -> Judge:
    """A judge of a lap that is steady."""
    judge = Judge()
    judge.enter("steady", 0.0, 0.0)
    return judge


def test_the_table_holds_each_state_and_only_known_signs() -> None:
    """Each of the nine states has ways out, along signs that are explained, to states that there are."""
    assert set(TABLE) == set(get_args(LapState))
    assert {way.sign for ways in TABLE.values() for way in ways} == set(SIGNS)
    assert {way.to for ways in TABLE.values() for way in ways} <= set(TABLE)


@pytest.mark.parametrize(
    ("later_s", "turns", "again"), [(4.9, 9.0, False), (9.0, 2.9, False), (5.0, 3.0, True)]
)
def test_the_same_alarm_waits_five_seconds_and_three_turns(later_s: float, turns: float, again: bool) -> None:
    """An alarm is not raised again before 5 s and 3 lap turns are over since it began."""
    judge = steady()
    assert judge.see({"jerk"}, 100.0, 50.0)
    judge.enter("steady", 101.0, 50.5)
    assert judge.see({"jerk"}, 100.0 + later_s, 50.0 + turns) is again


def test_a_stop_is_never_held_back() -> None:
    """A stopped lap is called stalled however soon it comes after the last time."""
    judge = steady()
    assert judge.see({"stopped"}, 100.0, 50.0)
    judge.enter("steady", 100.5, 50.1)
    assert judge.see({"stopped"}, 100.6, 50.1)


def test_three_of_a_kind_in_a_minute_stand() -> None:
    """The third slowing within a minute stands for a minute, whatever the lap does, but a stop ends it."""
    judge = steady()
    for start_s in (100.0, 120.0, 140.0):
        judge.enter("steady", start_s - 1.0, start_s)
        assert judge.see({"drop"}, start_s, start_s)
    assert not judge.see({"level"}, 199.9, 199.9)
    assert judge.see({"stopped"}, 199.9, 199.9)
    judge.enter("slowing", 300.0, 300.0)
    assert judge.see({"level"}, 301.0, 301.0)


def test_two_of_a_kind_do_not_stand() -> None:
    """Two of a kind in a minute end as soon as the lap is back."""
    judge = steady()
    for start_s in (100.0, 140.0):
        judge.enter("steady", start_s - 1.0, start_s)
        assert judge.see({"drop"}, start_s, start_s)
    assert judge.see({"level"}, 141.0, 141.0)


def test_the_person_ends_a_standing_alarm_by_accepting_the_level() -> None:
    """A level that the person accepts leads to settling although the alarm stands."""
    judge = steady()
    for start_s in (100.0, 120.0, 140.0):
        judge.enter("steady", start_s - 1.0, start_s)
        judge.see({"drop"}, start_s, start_s)
    assert judge.see({"accepted"}, 150.0, 150.0)
    assert judge.state == "settling"
    assert "slowing" in ALARMS
