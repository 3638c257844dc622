"""The rows of the fault table that stop the table, each played on the whole bench: found, named, at rest.

Common to all of them: at rest within the time to find it, plus speed over 2 rad/s2, plus 0.2 s; exactly one
cause; nothing moves afterwards; the logbook reads back sound.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import pytest

from benchctl.guard.alarm_rows import STOPS
from benchctl.logbook.reader import read
from benchctl.segment.states import State
from benchctl.session.acts import Act
from tests.session.driven import Driven

MARGIN_S = 0.2
STEP_S = 0.15
"""A step of the stepped host: nothing of the host's is timed closer than this."""
LOAD_KNOWN_S = 45.0
"""So long after a change of speed the load is known; before, a silent lap is taken for a stalled one."""
BY_HAND = ("person", "pedal_stop")


class FaultRow(NamedTuple):
    """A mishap, the cause it is told under, the kind of stop, and how long it may take to be found."""

    mishap: str
    reason: str
    kind: str
    found_s: float
    by_board: bool = True


ROWS = (
    FaultRow("host-hang", "permit_expired", "controlled_then_off", 0.6),
    FaultRow("suspend", "computer_slept", "controlled_then_off", 0.6),
    FaultRow("cable-out", "link_lost", "controlled_then_off", 0.6),
    FaultRow("board-reset", "brown_out", "power_off", 0.0),
    FaultRow("board-hang", "watchdog_reset", "power_off", 1.0),
    FaultRow("table-sensor-dead", "table_sensor_dead", "controlled_then_off", 0.6),
    FaultRow("table-sensor-noisy", "table_sensor_noisy", "controlled_then_off", 10.0),
    FaultRow("overload", "overload", "power_off", 2.5),
    FaultRow("belt-slip", "belt_slip", "controlled_then_off", 3.0),
    FaultRow("drive-stuck", "drive_not_following", "controlled_then_off", 2.3),
    FaultRow("runaway", "overspeed", "power_off", 0.5),
    FaultRow("lap-grab", "lap_grabbed", "power_off", 0.3),
    FaultRow("off-post", "lap_off", "controlled_then_off", 1.5),
    FaultRow("estop", "estop_open", "power_off", 0.05),
    FaultRow("pedal-stuck", "pedal_stop", "controlled_then_off", 1.0),
    FaultRow("lap-stall", "lap_stalled", "controlled_then_off", 6.0, by_board=False),
    FaultRow("lap-sensor-dead", "lap_sensor_dead", "controlled_then_off", 36.0, by_board=False),
    FaultRow("dry-lap", "dry_lap", "controlled_then_off", 180.0, by_board=False),
    FaultRow("disk-full", "disk_full", "controlled_then_off", 40.0, by_board=False),
)


def rest_s(bench: Driven, limit_s: float) -> float:
    """How long until the table truly rests, by the bench alone."""
    begun_s = bench.stepper.now_s
    while bench.rpm > 0.05:
        assert bench.stepper.now_s - begun_s < limit_s, f"still {bench.rpm:.1f} rpm"
        bench.stepper.step()
    return bench.stepper.now_s - begun_s


def stop_s(rpm: float) -> float:
    """From the decision to rest: speed over 2 rad/s2, and a margin."""
    return rpm * math.pi / 30.0 / 2.0 + MARGIN_S


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.mishap)
def test_a_fault_is_found_named_and_stopped(tmp_path: Path, row: FaultRow) -> None:
    """At rest in time, one cause on top of all, nothing moves, the record says how it was stopped."""
    bench = Driven(tmp_path, minutes=8.0)
    bench.polish()
    bench.go(LOAD_KNOWN_S)
    bench.play(row.mishap)
    limit_s = row.found_s + stop_s(max(26.0, bench.rpm)) + 2 * STEP_S
    if row.reason == "overspeed":
        limit_s += 1.0  # it coasts from a higher speed
    assert rest_s(bench, limit_s + 5.0) <= limit_s
    bench.until(lambda: bench.state is State.STANDING, 320.0)
    record = bench.runner.books.record
    assert record is not None
    assert (record.outcome, record.stop_reason, record.stop_kind) == ("stopped", row.reason, row.kind)
    assert len(bench.told("stopping")) == 1
    if row.reason not in BY_HAND:
        assert [alarm.name for alarm in bench.shot.alarms if alarm.priority == 1] == [row.reason]
    assert all(alarm.cause == row.reason for alarm in bench.shot.folded)
    assert STOPS[row.reason].do in bench.shot.do_now
    assert bench.stays_at_rest(6.0)
    for act in (Act.RUN, Act.SPEED_UP, Act.GO_ON, Act.FASTER):
        bench.do(act)
    assert bench.stays_at_rest(2.0)
    bench.plant.forget_mishaps()
    bench.parts.disk.full = False
    bench.parts.close()
    assert read(bench.parts.keeper.folder).sound


BOARD_ROWS = [row for row in ROWS if row.by_board and row.mishap not in ("host-hang", "suspend")]


@pytest.mark.parametrize("row", BOARD_ROWS, ids=lambda row: row.mishap)
def test_the_board_stops_by_itself_with_the_host_dead_at_the_same_moment(
    tmp_path: Path, row: FaultRow
) -> None:
    """No host from the mishap on: the table rests within the run permit, or sooner for the fault itself."""
    bench = Driven(tmp_path)
    bench.polish()
    bench.play(row.mishap)
    begun_s = bench.plant.now_s
    speed = bench.rpm
    while bench.rpm > 0.05:
        bench.plant.advance(bench.plant.now_s + 0.05)
        speed = max(speed, bench.rpm)
        assert bench.plant.now_s - begun_s <= 0.6 + stop_s(speed) + 0.1
    bench.plant.advance(bench.plant.now_s + 10.0)
    assert bench.rpm == 0.0
    assert not bench.plant.board.powered
    bench.parts.close()


@pytest.mark.parametrize("mishap", ["noisy-cable", "lap-sensor-noisy", "clock-jump"])
def test_what_is_only_told_stops_nothing(tmp_path: Path, mishap: str) -> None:
    """A cable that damages, a lap sensor that misses, a clock that jumps: advice, and the segment is done."""
    bench = Driven(tmp_path, minutes=4.0)
    bench.polish()
    bench.play(mishap)
    seen: set[tuple[str, int]] = set()
    while bench.state is not State.WET_DOWN:
        bench.go(1.0)
        seen |= {(alarm.name, alarm.priority) for alarm in bench.shot.alarms}
    bench.do(Act.WETTED)
    bench.until(lambda: bench.state is State.STANDING, 100.0)
    record = bench.runner.books.record
    assert record is not None
    assert record.outcome == "completed"
    assert seen
    assert {priority for _, priority in seen} == {3}
    bench.parts.close()


def test_a_full_disk_is_told_at_once_and_a_freed_one_goes_on(bench: Driven) -> None:
    """Told, held in memory; freed within the 20 s, the segment goes on and nothing is lost."""
    bench.polish()
    bench.parts.disk.full = True
    bench.until(lambda: bench.alarm("record_not_kept") is not None, 15.0)
    bench.parts.disk.full = False
    bench.go(20.0)
    assert bench.runner.engine.turning
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING, 20.0)
    bench.parts.close()
    book = read(bench.parts.keeper.folder)
    assert [entry.kind for entry in book.of_kind("segment_start", "segment_end")] == [
        "segment_start", "segment_end",
    ]  # fmt: skip


@pytest.mark.parametrize("presses", [(Act.ACKNOWLEDGE, Act.RESET), (Act.RESET, Act.RESET)])
def test_a_freed_disk_is_tried_when_the_person_asks(bench: Driven, presses: tuple[Act, Act]) -> None:
    """To acknowledge, or to ask for a reset, tries the disk at once: no wait for the next try by itself."""
    bench.polish()
    bench.play("disk-full")
    bench.until(lambda: bench.state is State.STANDING, 60.0)
    if presses[0] is Act.RESET:
        bench.do(Act.ACKNOWLEDGE)
    bench.go(0.3)
    bench.parts.disk.full = False
    for press in presses:
        bench.do(press)
        bench.go(0.15)
    bench.go(0.5)
    assert not bench.runner.alarms.book.latched
    assert bench.runner.books.kept


def test_a_number_that_is_old_is_not_shown(bench: Driven) -> None:
    """Half a second after the board's last word there is no number any more, and the loss is told."""
    bench.polish()
    assert bench.shot.table_rpm is not None
    bench.plant.cable.faults.silent = True
    bench.go(0.75)
    shot = bench.shot
    assert (shot.table_rpm, shot.load_percent, shot.lap.lap_rpm) == (None, None, None)
    assert [alarm.name for alarm in shot.alarms] == ["link_lost"]
