"""The motor's load: a warning below the board's limit, and a load that reads nothing."""

from __future__ import annotations

from pathlib import Path

from benchctl.guard.guard import Guard
from benchctl.segment.states import State
from benchctl.session.acts import Act
from tests.guard.test_guard import sight, verdict
from tests.session.driven import Driven


def names(guard: Guard, **changes: object) -> list[str]:
    return [finding.name for finding in guard.see(sight(**changes))]


def test_a_load_near_the_limit_is_told() -> None:
    """From 85 % of the board's limit; let go 5 % of the rating below that; nothing without a limit."""
    guard = Guard()
    assert names(guard, load_percent=72.0, load_limit_percent=85.0) == []
    assert names(guard, load_percent=72.5, load_limit_percent=85.0) == ["load_high"]
    assert names(guard, load_percent=68.0, load_limit_percent=85.0) == ["load_high"]
    assert names(guard, load_percent=67.0, load_limit_percent=85.0) == []
    assert names(guard, load_percent=84.0) == []


def test_another_limit_is_another_level() -> None:
    """A board whose settings were read anew, or another board, is judged by its own limit."""
    guard = Guard()
    assert names(guard, load_percent=60.0, load_limit_percent=60.0) == ["load_high"]
    assert names(guard, load_percent=60.0, load_limit_percent=85.0) == []


def test_a_load_that_reads_nothing_is_told() -> None:
    """After ten seconds without any load while the table turns; a single reading ends it."""
    guard = Guard()
    assert names(guard, now_s=0.0, load_percent=0.2) == []
    assert names(guard, now_s=9.9, load_percent=0.0) == []
    assert names(guard, now_s=10.1, load_percent=0.3) == ["load_unread"]
    assert names(guard, now_s=10.2, load_percent=0.8) == []
    assert names(guard, now_s=20.0, load_percent=0.0) == []


def test_a_load_that_comes_back_is_no_drying() -> None:
    """Readings of nothing are no level that a load could have climbed from."""
    guard = Guard()
    for second in range(120):
        names(guard, now_s=float(second), load_percent=0.0)
    for second in range(120, 200):
        assert names(guard, now_s=float(second), load_percent=40.0) == []


def test_a_load_that_reads_nothing_does_not_say_that_the_lap_is_off() -> None:
    """A lap off its post leaves the table's own drag; the person is told, and nothing is stopped for it."""
    fast = verdict("fast", load_ratio=0.2)
    assert names(Guard(), load_percent=8.0, verdict=fast) == ["lap_off"]
    assert names(Guard(), load_percent=0.0, verdict=fast) == ["lap_fast"]


def test_a_drag_that_grows_is_warned_of_before_the_power_goes_off(tmp_path: Path) -> None:
    """On the whole bench: something drags harder and harder; the warning comes first, then the overload."""
    bench = Driven(tmp_path)
    bench.polish()
    plant = bench.plant.plant
    told_s = None
    while bench.runner.engine.turning:
        plant.table_drag_nm += 0.01 * plant.drive.rated_nm * bench.stepper.step_s
        bench.go(bench.stepper.step_s)
        alarm = bench.alarm("load_high")
        if told_s is None and alarm is not None:
            told_s = bench.stepper.now_s
            assert alarm.priority == 2
            assert "85 %" in alarm.detail
    assert bench.runner.engine.stop_reason == "overload"
    assert told_s is not None
    assert 8.0 < bench.stepper.now_s - told_s < 20.0
    bench.parts.close()


def test_a_clean_segment_warns_of_no_load(tmp_path: Path) -> None:
    """Start, ramps and polishing with wet work bring neither warning."""
    bench = Driven(tmp_path, minutes=4.0)
    bench.polish()
    bench.until(lambda: bench.state is State.WET_DOWN, 300.0)
    bench.do(Act.WETTED)
    bench.until(lambda: bench.state is State.STANDING, 120.0)
    told = {event["name"] for event in bench.told("alarm")}
    assert not told & {"load_high", "load_unread"}
    bench.parts.close()


def test_a_board_whose_load_wire_is_off_is_advice(tmp_path: Path) -> None:
    """A signal that is gone stops nothing; the person is told what would go unseen."""
    bench = Driven(tmp_path)
    bench.polish()
    bench.plant.plant.load_permille = lambda: 0  # type: ignore[method-assign]
    bench.until(lambda: bench.alarm("load_unread") is not None, 15.0)
    alarm = bench.alarm("load_unread")
    assert alarm is not None
    assert alarm.priority == 3
    assert bench.runner.engine.turning
    bench.parts.close()
