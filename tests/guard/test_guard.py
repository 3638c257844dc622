"""The host's guard: each rule by itself, stepped by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchctl.guard.disk import STOP_AFTER_S, DiskRule
from benchctl.guard.guard import Guard
from benchctl.guard.sight import Finding, Sight
from benchctl.guard.words import DO_LIMIT, REASONS, words_for
from benchctl.lapwatch import Verdict
from firmware_protocol import reasons


def sight(**changes: object) -> Sight:
    """A steady lap at 26 rpm, a minute after the last change of speed."""
    fields: dict[str, object] = {
        "now_s": 100.0,
        "table_rpm": 26.0,
        "target_rpm": 26.0,
        "load_percent": 40.0,
        "verdict": Verdict(state="steady", spin_ratio=0.91, severity=0.05),
        "lap_turns": 50.0,
        "running_s": 100.0,
        "since_speed_change_s": 60.0,
        "watching_since_s": None,
    }
    return Sight(**(fields | changes))  # type: ignore[arg-type]


def trips(findings: list[Finding]) -> list[str]:
    """The reasons for which the table would be stopped."""
    return [finding.trip for finding in findings if finding.trip is not None]


def verdict(state: str, **changes: object) -> Verdict:
    return replace(Verdict(state=state, spin_ratio=0.91, severity=0.05), **changes)  # type: ignore[arg-type]


def test_a_steady_lap_is_left_alone() -> None:
    """Nothing is found while the lap spins true, for an hour of looks."""
    guard = Guard()
    for second in range(3600):
        assert guard.see(sight(now_s=float(second), lap_turns=second * 0.4)) == []


def test_a_resting_table_is_not_judged() -> None:
    """Below 1 rpm nothing is judged, whatever the watcher says."""
    assert Guard().see(sight(table_rpm=0.5, verdict=verdict("stalled"))) == []


def test_a_stalled_lap_stops_the_table_at_once() -> None:
    """Stalled trips in the same look."""
    assert trips(Guard().see(sight(verdict=verdict("stalled")))) == ["lap_stalled"]


def test_a_lap_never_seen_to_turn_is_asked_after() -> None:
    """No target in two turns of the table and 15 s: the sensor counts as silent, the person is asked; 30 s
    later the table stops for that, not for a stall that nobody saw."""
    waiting = verdict("waiting", spin_ratio=None)
    guard = Guard()

    def at(running_s: float, rpm: float = 6.0) -> list[Finding]:
        return guard.see(
            sight(now_s=running_s, running_s=running_s, verdict=waiting, lap_turns=0.0, target_rpm=rpm)
        )

    assert at(19.0) == []
    assert [finding.name for finding in at(21.0)] == ["lap_sensor_dead"]
    assert trips(at(50.0)) == []
    assert trips(at(51.5)) == ["lap_sensor_dead"]
    guard = Guard()
    assert at(100.0, rpm=1.0) == []
    assert [finding.name for finding in at(121.0, rpm=1.0)] == ["lap_sensor_dead"]


def test_a_lap_that_has_turned_is_not_called_unseen_when_the_table_slows() -> None:
    """Waiting again at a low speed, late in a segment, is nothing."""
    waiting = verdict("waiting", spin_ratio=None)
    assert Guard().see(sight(verdict=waiting, running_s=400.0, lap_turns=80.0, target_rpm=2.0)) == []


def test_a_jerk_that_may_be_the_sensors_is_not_told() -> None:
    """With more than 15 % of the targets missed, jerk is not judged."""
    assert Guard().see(sight(verdict=verdict("jerky", severity=1.2, weak_share=0.16))) == []
    assert Guard().see(sight(verdict=verdict("jerky", severity=1.2, weak_share=0.14))) != []


@pytest.mark.parametrize(
    ("severity", "turns", "eased", "wetted"),
    [(0.4, 10.0, False, False), (0.7, 2.5, False, False), (0.7, 3.5, True, False), (1.05, 3.5, False, True)],
)
def test_a_jerking_lap_is_named_then_slowed_then_wetted_and_stopped(
    severity: float, turns: float, eased: bool, wetted: bool
) -> None:
    """Over 0.6 for three turns: to 60 % of the speed. At 1 for three turns: water, then stop. Below: a word
    and the offer of four fifths of the speed."""
    guard = Guard()
    jerky = verdict("jerky", severity=severity)
    assert guard.see(sight(verdict=jerky, lap_turns=10.0))[0].name == "lap_jerky"
    [finding] = guard.see(sight(verdict=jerky, lap_turns=10.0 + turns))
    assert finding.trip is None
    assert finding.offer_rpm == pytest.approx(0.8 * 26.0)
    assert (finding.ease_rpm is not None) == eased
    assert (finding.wet_and_stop == "lap_jerky") == wetted
    if eased:
        assert finding.ease_rpm == pytest.approx(0.6 * 26.0)


def test_a_lap_that_jerks_on_is_slowed_again_only_after_three_turns_more() -> None:
    """Slowed once, it is not slowed again with the next look."""
    guard = Guard()
    jerky = verdict("jerky", severity=0.7)
    slowed = [
        turns
        for turns in (10.0, 13.1, 13.2, 14.0, 16.0, 16.2)
        if guard.see(sight(verdict=jerky, lap_turns=turns))[0].ease_rpm is not None
    ]
    assert slowed == [13.1, 16.2]


def slowing(guard: Guard, load_ratio: float, loss_a_minute: float, recover_at: int = 999) -> list[Finding]:
    """A lap that loses speed steadily for two minutes; what the guard said of it, a look a second."""
    found = []
    for second in range(120):
        ratio = 0.9 if second >= recover_at else 0.9 * (1.0 - loss_a_minute * second / 60.0)
        seen = verdict(
            "slowing" if second < recover_at else "steady", spin_ratio=ratio, load_ratio=load_ratio
        )
        found += guard.see(sight(now_s=float(second), verdict=seen, lap_turns=50.0 + 0.4 * second))
    return found


def test_a_lap_that_falls_fast_under_load_gets_a_countdown_and_then_water() -> None:
    """More than a tenth a minute with the load up: told with a countdown; 30 s later water is called for.
    Recovered in time, or without a rising load, or falling slowly: only told."""
    found = slowing(Guard(), 1.2, 0.3)
    wet = [finding for finding in found if finding.wet_and_stop is not None]
    assert wet[0].wet_and_stop == "lap_slowing"
    counting = [finding for finding in found if "stops for water in" in finding.detail]
    assert len(counting) == pytest.approx(30, abs=2)
    step = Guard()
    for second in range(200):
        seen = verdict("slowing", spin_ratio=0.9 if second < 50 else 0.7, load_ratio=1.2)
        found = step.see(sight(now_s=float(second), verdict=seen, lap_turns=50.0 + 0.4 * second))
        assert all(finding.wet_and_stop is None for finding in found)
    for gentle in (
        slowing(Guard(), 1.2, 0.3, recover_at=35),
        slowing(Guard(), 1.0, 0.3),
        slowing(Guard(), 1.2, 0.05),
    ):
        assert gentle
        assert {finding.name for finding in gentle} == {"lap_slowing"}
        assert all(finding.wet_and_stop is None for finding in gentle)


def test_jerk_that_stops_begins_its_turns_anew() -> None:
    """Two turns of jerk, a calm look, two turns of jerk: not three in a row."""
    guard = Guard()
    jerky = verdict("jerky", severity=1.2)
    for turns, seen in (
        (10.0, jerky),
        (12.0, jerky),
        (12.5, verdict("steady")),
        (13.0, jerky),
        (15.0, jerky),
    ):
        assert all(one.wet_and_stop is None for one in guard.see(sight(verdict=seen, lap_turns=turns)))


def test_a_silent_sensor_slows_then_stops_unless_the_person_watches() -> None:
    """20 s: slower. 30 s: stop. With 'I am watching', for five minutes, only a word."""
    silent = verdict("no_signal")
    guard = Guard()
    assert guard.see(sight(now_s=0.0, verdict=silent))[0].ease_rpm is None
    assert guard.see(sight(now_s=21.0, verdict=silent))[0].ease_rpm == 10.0
    assert trips(guard.see(sight(now_s=31.0, verdict=silent))) == ["lap_sensor_dead"]
    watched = Guard()
    watched.see(sight(now_s=0.0, verdict=silent))
    assert watched.see(sight(now_s=10.0, verdict=silent, watching_since_s=5.0))[0].name == "lap_watched"
    assert trips(watched.see(sight(now_s=60.0, verdict=silent, watching_since_s=5.0))) == []
    assert trips(watched.see(sight(now_s=400.0, verdict=silent, watching_since_s=5.0))) == ["lap_sensor_dead"]


def test_silence_that_goes_on_is_not_taken_for_a_stall() -> None:
    """A sensor known to be silent stays so while no target passes, whatever the watcher makes of it."""
    guard = Guard()
    guard.see(sight(now_s=0.0, verdict=verdict("no_signal")))
    assert trips(guard.see(sight(now_s=22.0, verdict=verdict("stalled")))) == []
    assert trips(guard.see(sight(now_s=31.0, verdict=verdict("stalled")))) == ["lap_sensor_dead"]
    guard = Guard()
    guard.see(sight(now_s=0.0, verdict=verdict("no_signal")))
    assert trips(guard.see(sight(now_s=5.0, lap_turns=52.0, verdict=verdict("stalled")))) == ["lap_stalled"]


def test_a_lap_off_its_post_stops_the_table() -> None:
    """Fast with the load gone trips; fast with the load there is a warning."""
    assert trips(Guard().see(sight(verdict=verdict("fast", load_ratio=0.4)))) == ["lap_off"]
    [finding] = Guard().see(sight(verdict=verdict("fast", load_ratio=0.95)))
    assert (finding.name, finding.trip) == ("lap_fast", None)


def climb(
    guard: Guard, share_per_minute: float, seconds: int, relief_at: int | None = None
) -> list[tuple[int, Finding]]:
    """Let the load climb after a calm minute; what the dry rule found, with the second."""
    found = []
    for second in range(seconds):
        load = 40.0 * (1.0 + share_per_minute * max(0.0, second - 60) / 60.0)
        if relief_at is not None and second >= relief_at:
            load = 40.0
        for finding in guard.see(sight(now_s=float(second), load_percent=load)):
            if finding.name == "lap_drying":
                found.append((second, finding))
    return found


def test_rising_drag_calls_for_water_then_slows_then_stops() -> None:
    """A fifth more in a minute: call; 30 s later 10 rpm; 60 s later stop as a dry lap."""
    found = climb(Guard(), 0.4, 300)
    first = found[0][0]
    assert 90 <= first <= 100
    eased = next(second for second, finding in found if finding.ease_rpm == 10.0)
    stopped = next(second for second, finding in found if finding.trip == "dry_lap")
    assert eased - first == pytest.approx(30, abs=2)
    assert stopped - first == pytest.approx(60, abs=2)


def test_drag_that_falls_after_wetting_is_forgiven() -> None:
    """Water that helps ends the call and nothing is stopped."""
    found = climb(Guard(), 0.4, 300, relief_at=115)
    assert found
    assert all(finding.trip is None for _, finding in found)
    assert found[-1][0] < 130


def test_drag_that_creeps_up_between_wettings_is_normal() -> None:
    """A tenth in a minute, back with each wetting, is no alarm."""
    guard = Guard()
    for second in range(1200):
        load = 40.0 * (1.0 + 0.10 * (second % 240) / 60.0 / 4.0)
        assert guard.see(sight(now_s=float(second), load_percent=load)) == []


def test_a_change_of_speed_is_not_a_drying_lap() -> None:
    """Load is not judged while the commanded speed is new."""
    guard = Guard()
    for second in range(60):
        load = 20.0 if second < 30 else 40.0
        since = float(second % 30)
        findings = guard.see(
            sight(now_s=float(second), load_percent=load, since_speed_change_s=min(since, 7.0))
        )
        assert findings == []


@pytest.mark.parametrize("creep_rpm", [6.0, 24.0])
def test_a_load_is_compared_at_one_speed(creep_rpm: float) -> None:
    """More drag at a higher speed is no drying lap; the speed trimmed by hand is the same speed, and is."""
    guard = Guard()
    told = False
    for second in range(200):
        since = float(second if second < 60 else second - 60)
        rpm, load = (creep_rpm, 20.0) if second < 60 else (26.0, 40.0)
        told = told or bool(
            guard.see(
                sight(now_s=float(second), load_percent=load, target_rpm=rpm, since_speed_change_s=since)
            )
        )
    assert told == (creep_rpm == 24.0)


def test_a_full_disk_is_said_at_once_and_stops_when_it_lasts() -> None:
    """Records not kept: a warning; for twenty seconds: stop; kept again: forgotten."""
    rule = DiskRule()
    assert rule.see(True, 0.0) == []
    assert trips(rule.see(False, 1.0)) == []
    assert rule.see(False, 1.0)[0].name == "record_not_kept"
    assert rule.see(True, 15.0) == []
    assert trips(rule.see(False, 16.0)) == []
    assert trips(rule.see(False, 16.0 + STOP_AFTER_S)) == ["disk_full"]


def test_what_stops_comes_first() -> None:
    """A finding that stops stands before one that is only told."""
    guard = Guard()
    for second in range(100):
        found = guard.see(sight(now_s=float(second), load_percent=40.0 + 0.4 * max(0, second - 60)))
    found = guard.see(sight(now_s=100.0, load_percent=60.0, verdict=verdict("stalled")))
    assert [finding.trip is not None for finding in found] == [True, False]


def test_every_reason_has_words_a_wet_hand_can_act_on() -> None:
    """Each reason of the board has words, and what to do is at most 60 characters."""
    for _, name, _, _ in reasons.REASONS:
        assert name in REASONS or name == "none", name
    for name, words in REASONS.items():
        assert 0 < len(words.do) <= DO_LIMIT, name
        assert 0 < len(words.look) <= DO_LIMIT, name
        assert len(words.title) <= 46, name
    unknown = words_for("reason_99")
    assert unknown.do
