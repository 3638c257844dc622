"""Alarms: the flags one by one, against the rules of OPC 10000-9 as far as its text was read."""

from __future__ import annotations

import math

import pytest

from benchctl.guard.alarm import Alarm
from benchctl.guard.alarm_rows import ALARMS, HOST_ASKED, NOT_LATCHED, STOPS, AlarmRow
from benchctl.guard.alarms import MOST_SHELVED_S, AlarmBook
from benchctl.guard.words import DO_LIMIT
from firmware_protocol import reasons

SLOW = AlarmRow("slow", 2, "Slow", "Look", "caution", on_delay_s=3.0, off_delay_s=5.0, again_s=15.0)
ADVICE = AlarmRow("advice", 3, "Advice", "Look later", off_delay_s=0.0)


def book() -> AlarmBook:
    """A book with one warning and one piece of advice."""
    return AlarmBook({"slow": SLOW, "advice": ADVICE})


def play(
    alarms: AlarmBook, name: str, spans: list[tuple[float, float]], until_s: float
) -> list[tuple[float, str]]:
    """Let a condition hold in spans of time, looked at ten times a second; what changed, and when."""
    told = []
    for tick in range(round(until_s * 10) + 1):
        now_s = tick / 10
        holds = any(begin <= now_s < end for begin, end in spans)
        told += [(now_s, change.what) for change in alarms.see({name: ""} if holds else {}, now_s)]
    return told


def only(alarms: AlarmBook) -> Alarm:
    """The one alarm that stands."""
    [alarm] = alarms.alarms()
    return alarm


# Delays: OPC 10000-9, annex B.1.5


def test_a_spike_shorter_than_the_on_delay_is_no_alarm() -> None:
    """B.1.5: the value must be over its limit for the whole on-delay."""
    assert play(book(), "slow", [(1.0, 3.9), (5.0, 7.9)], 20.0) == []


def test_an_alarm_comes_with_the_on_delay_and_goes_with_the_off_delay() -> None:
    """B.1.5: raised 3 s after the condition began, cleared 5 s after it went."""
    assert play(book(), "slow", [(1.0, 10.0)], 20.0) == [(4.0, "raised"), (15.0, "cleared")]


def test_a_dip_shorter_than_the_off_delay_is_no_new_alarm() -> None:
    """B.1.5: the off-delay keeps it in alarm over a short dip."""
    assert play(book(), "slow", [(1.0, 8.0), (12.9, 14.0)], 18.0) == [(4.0, "raised")]


def test_what_was_acknowledged_and_goes_on_is_told_again() -> None:
    """5.8.2: after the re-alarm time an alarm that is still active is brought back, unacknowledged."""
    alarms = book()
    play(alarms, "slow", [(0.0, 99.0)], 4.0)
    alarms.acknowledge()
    assert only(alarms).acknowledged
    assert [change.what for change in alarms.see({"slow": ""}, 17.9)] == []
    assert [change.what for change in alarms.see({"slow": ""}, 18.0)] == ["again"]
    assert not only(alarms).acknowledged


# The three acts


def test_acknowledge_silence_and_reset_are_three_acts() -> None:
    """Each changes its own flag and no other."""
    alarms = book()
    alarms.trip("overspeed", 0.0)
    before = only(alarms)
    alarms.silence()
    assert only(alarms) == before._replace(silenced=True)
    alarms.acknowledge()
    assert only(alarms) == before._replace(silenced=True, acknowledged=True)
    assert alarms.reset(1.0) == []
    assert only(alarms) == before._replace(silenced=True, acknowledged=True)


def test_what_is_acknowledged_is_not_silenced() -> None:
    """5.8.2: an alarm that was acknowledged already shall not be silenced."""
    alarms = book()
    alarms.trip("overspeed", 0.0)
    alarms.acknowledge()
    assert alarms.silence() == []
    assert not only(alarms).silenced


def test_a_new_alarm_sounds_though_the_last_was_silenced() -> None:
    """Silence is for what sounds now."""
    alarms = book()
    play(alarms, "slow", [(0.0, 99.0)], 4.0)
    alarms.silence()
    alarms.trip("overload", 5.0)
    assert {alarm.name: alarm.silenced for alarm in alarms.alarms()} == {"slow": True, "overload": False}


# Latched: 5.8.2, 5.8.5


@pytest.mark.parametrize(("active", "acknowledged"), [(True, False), (True, True), (False, False)])
def test_a_reset_is_refused_while_active_or_not_acknowledged(active: bool, acknowledged: bool) -> None:
    """5.8.5: to be reset it shall have been in alarm, returned to normal and been acknowledged."""
    alarms = book()
    alarms.trip("overload", 0.0)
    alarms.see({"overload": ""} if active else {}, 1.0)
    if acknowledged:
        alarms.acknowledge()
    assert alarms.why_not_reset()
    before = alarms.alarms()
    assert alarms.reset(2.0) == []
    assert alarms.alarms() == before
    assert alarms.latched


def test_what_is_latched_stands_until_its_reset() -> None:
    """5.8.2: it stays after its cause is gone and it is acknowledged; the reset lets it go."""
    alarms = book()
    alarms.trip("overload", 0.0)
    alarms.see({}, 1.0)
    alarms.new_segment()
    assert not only(alarms).acknowledged
    alarms.acknowledge()
    alarms.new_segment()
    alarms.see({}, 1000.0)
    assert only(alarms).latched
    assert alarms.why_not_reset() is None
    assert [change.what for change in alarms.reset(1001.0)] == ["reset"]
    assert alarms.alarms() == []


def test_a_stop_by_hand_is_not_latched() -> None:
    """Nothing is to be found or reset after it."""
    alarms = book()
    alarms.trip("person", 0.0)
    assert not alarms.latched
    assert not only(alarms).listed


def test_a_warning_stands_until_it_is_seen_and_advice_goes_by_itself() -> None:
    """A cleared warning waits for its acknowledgement; cleared advice is gone."""
    alarms = book()
    play(alarms, "slow", [(0.0, 5.0)], 20.0)
    assert (only(alarms).active, only(alarms).acknowledged) == (False, False)
    alarms.acknowledge()
    assert alarms.alarms() == []
    play(alarms, "advice", [(0.0, 5.0)], 20.0)
    assert alarms.alarms() == []


# Shelving: 5.8.17


def test_only_advice_is_shelved_and_at_most_half_an_hour() -> None:
    """A stop or a warning cannot be put aside, nor advice for longer or for no time."""
    alarms = book()
    alarms.trip("overload", 0.0)
    play(alarms, "slow", [(0.0, 99.0)], 4.0)
    alarms.see({"slow": "", "advice": ""}, 5.0)
    for name in ("overload", "slow", "none such"):
        assert alarms.why_not_shelve(name)
        assert alarms.shelve(name, 5.0) == []
    for for_s in (0.0, -1.0, MOST_SHELVED_S + 0.1, math.inf, math.nan):
        assert alarms.shelve("advice", 5.0, for_s) == []
    assert [change.what for change in alarms.shelve("advice", 5.0)] == ["shelved"]


def test_what_was_shelved_comes_back_by_itself() -> None:
    """After its time it is told again if it still holds, and is gone if it does not."""
    alarms = book()
    alarms.see({"advice": ""}, 0.0)
    alarms.shelve("advice", 0.0, 60.0)
    assert not alarms.stands("advice")
    assert [change.what for change in alarms.see({"advice": ""}, 60.0)] == ["unshelved", "again"]
    assert alarms.stands("advice")
    alarms.shelve("advice", 61.0, 60.0)
    alarms.see({}, 62.0)
    assert [change.what for change in alarms.see({}, 121.0)] == ["unshelved"]
    assert alarms.alarms() == []


# First out


def test_the_first_cause_stands_on_top_and_the_others_fold_beneath() -> None:
    """One cause is one line: what stood before and what follows is a consequence of it."""
    alarms = book()
    play(alarms, "slow", [(0.0, 99.0)], 4.0)
    alarms.trip("lap_grabbed", 5.0)
    alarms.trip("permit_expired", 6.0)
    alarms.see({"slow": "", "advice": ""}, 7.0)
    first, *others = alarms.alarms()
    assert (first.name, first.cause) == ("lap_grabbed", None)
    assert {alarm.name for alarm in others} == {"slow", "permit_expired", "advice"}
    assert {alarm.cause for alarm in others} == {"lap_grabbed"}


def test_what_the_work_asks_for_folds_beneath_no_stop() -> None:
    """The call to slide the lap off a resting mirror is no consequence of the stop: it calls all the same."""
    alarms = AlarmBook()
    alarms.see({"lap_standing": "", "cable_noisy": ""}, 0.0)
    alarms.trip("lap_stalled", 1.0)
    alarms.see({"lap_standing": "", "wetting_due": ""}, 2.0)
    causes = {alarm.name: alarm.cause for alarm in alarms.alarms()}
    assert causes == {"lap_stalled": None, "lap_standing": None, "wetting_due": None}


def test_power_that_stays_on_stands_above_every_other_cause() -> None:
    """The call to press the emergency stop is never folded away."""
    alarms = book()
    alarms.trip("overload", 0.0)
    alarms.trip("power_not_off", 1.0)
    first, second = alarms.alarms()
    assert (first.name, first.cause) == ("power_not_off", None)
    assert (second.name, second.cause) == ("overload", "power_not_off")


def test_a_cause_found_out_later_takes_the_place_of_what_it_explains() -> None:
    """The link was lost because the board restarted: the restart stands on top."""
    alarms = book()
    alarms.trip("link_lost", 0.0)
    alarms.trip("permit_expired", 0.5)
    alarms.trip("brown_out", 1.0, explains=True)
    first, *others = alarms.alarms()
    assert (first.name, first.cause) == ("brown_out", None)
    assert {(alarm.name, alarm.cause) for alarm in others} == {
        ("link_lost", "brown_out"),
        ("permit_expired", "brown_out"),
    }


def test_alarms_of_one_group_are_one_line() -> None:
    """Without a stop, the first of a group stands and the others fold beneath it."""
    alarms = AlarmBook()
    alarms.see({"lap_drying": ""}, 0.0)
    alarms.see({"lap_drying": "", "lap_slowing": "", "lap_fast": ""}, 1.0)
    causes = {alarm.name: alarm.cause for alarm in alarms.alarms()}
    assert causes == {"lap_drying": None, "lap_slowing": "lap_drying", "lap_fast": None}


def test_a_jerk_stands_above_a_slow_lap_whichever_came_first() -> None:
    """One banner for the lap: the stronger replaces the weaker, which is kept beneath it."""
    alarms = AlarmBook()
    alarms.see({"lap_slowing": ""}, 0.0)
    alarms.see({"lap_slowing": "", "lap_jerky": ""}, 1.0)
    assert [(alarm.name, alarm.cause) for alarm in alarms.alarms()] == [
        ("lap_jerky", None),
        ("lap_slowing", "lap_jerky"),
    ]


def test_when_the_first_stop_is_over_the_next_one_is_the_cause() -> None:
    """A person's stop is over by itself; the fault that came after it still stands and takes its place."""
    alarms = book()
    play(alarms, "slow", [(0.0, 99.0)], 4.0)
    alarms.trip("person", 5.0)
    alarms.trip("overload", 6.0)
    alarms.trip("belt_slip", 7.0)
    alarms.see({"slow": ""}, 8.0)
    alarms.acknowledge(["person"])
    alarms.see({"slow": ""}, 9.0)
    assert alarms.first == "overload"
    first, *others = alarms.alarms()
    assert (first.name, first.cause) == ("overload", None)
    assert {alarm.name for alarm in others} == {"belt_slip", "slow"}
    assert {alarm.cause for alarm in others} == {"overload"}


def test_a_new_cause_after_the_reset_is_a_first_cause_again() -> None:
    """What was dealt with folds nothing any more."""
    alarms = book()
    alarms.trip("overload", 0.0)
    alarms.see({}, 1.0)
    alarms.acknowledge()
    alarms.reset(2.0)
    alarms.trip("belt_slip", 3.0)
    assert (only(alarms).name, only(alarms).cause) == ("belt_slip", None)


# The table


def test_every_alarm_says_what_to_do_in_sixty_characters() -> None:
    """Every row has words, a priority of three, delays that are no less than nothing."""
    for name, row in (ALARMS | STOPS).items():
        assert row.name == name
        assert row.priority in (1, 2, 3)
        assert 0 < len(row.do) <= DO_LIMIT, name
        assert 0 < len(row.title) <= 46, name
        assert row.on_delay_s >= 0.0
        assert row.off_delay_s >= 0.0


def test_stops_latch_here_as_they_do_on_the_board() -> None:
    """The host's table and the board's agree on which stops want a reset."""
    for number, name, _, latched in reasons.REASONS:
        if number != reasons.NONE:
            assert STOPS[name].latches == latched, name
    assert {name for name in NOT_LATCHED if name in {row[1] for row in reasons.REASONS}} == {
        name for number, name, _, latched in reasons.REASONS if not latched and number
    }
    assert {row[1] for row in reasons.REASONS} >= HOST_ASKED


def test_a_stop_for_a_fault_has_the_highest_priority_and_advice_makes_no_sound() -> None:
    """Priority 1 is for stops alone; advice is never called."""
    assert {row.priority for row in STOPS.values()} <= {1, 2}
    assert all(row.priority == 1 for row in STOPS.values() if row.latches)
    assert all(row.priority > 1 for row in ALARMS.values())
    assert all(row.call is None for row in ALARMS.values() if row.priority == 3)
