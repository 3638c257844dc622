"""After a stop: water, the clock of the lap on the glass, and nothing that moves without reset, arm, run."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from benchctl.logbook.reader import read
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.simulator.cable import HostEnd
from firmware_protocol import messages
from tests.session.driven import Driven

FAULTS = ("estop", "overload", "table-sensor-dead", "lap-stall", "cable-out", "runaway")


def stopped(bench: Driven, mishap: str = "lap-stall") -> None:
    """Polishing, then a mishap, then at rest with the lap on the glass."""
    bench.polish()
    bench.play(mishap)
    bench.until(lambda: bench.state is State.STANDING, 60.0)


def next_segment(bench: Driven) -> None:
    """The lap is lifted, the glass looked at, the next segment ready."""
    bench.do(Act.LIFTED)
    bench.do(Act.LOOKED)
    bench.do(Act.NEXT)
    assert bench.state is State.READY


def test_the_first_words_after_a_stop_are_water_and_the_clock_runs(bench: Driven) -> None:
    """ "Wet the edge of the lap now" at once, what to look at, and how long the lap stands on the glass."""
    bench.polish()
    bench.play("lap-stall")
    bench.until(lambda: bench.state is State.STOPPING, 60.0)
    shot = bench.shot
    assert shot.call is not None
    assert shot.call.pattern == "fault"
    assert "Wet the edge of the lap now" in shot.do_now
    assert shot.look_at
    assert shot.standing_s is None
    bench.until(lambda: bench.state is State.STANDING, 30.0)
    bench.go(12.0)
    assert bench.shot.standing_s == pytest.approx(12.0, abs=0.5)
    bench.do(Act.LIFTED)
    assert bench.shot.standing_s is None
    assert bench.runner.books.record is not None
    assert bench.runner.books.record.standing_s == pytest.approx(12.2, abs=0.5)


@pytest.mark.parametrize("mishap", FAULTS)
def test_nothing_moves_after_a_fault_without_reset_arm_and_run(tmp_path: Path, mishap: str) -> None:
    """Arm and run are refused in one sentence; silencing and all other acts start nothing."""
    bench = Driven(tmp_path)
    stopped(bench, mishap)
    bench.plant.forget_mishaps()
    next_segment(bench)
    for act in (Act.ARM, Act.RUN, Act.SILENCE, Act.ARM, Act.RUN, Act.GO_ON, Act.SPEED_UP):
        bench.do(act)
        assert bench.stays_at_rest(2.0)
    assert "reset, before arming" in str(bench.told("refused")[0]["why"])
    assert bench.names().count("board_armed") == 1
    bench.parts.close()


@pytest.mark.parametrize("mishap", ["overload", "lap-stall"])
def test_reset_arm_and_run_start_it_again(tmp_path: Path, mishap: str) -> None:
    """Seen, reset, armed, run: each its own act, and only the last one moves the table."""
    bench = Driven(tmp_path)
    stopped(bench, mishap)
    bench.plant.forget_mishaps()
    bench.plant.plant.table_drag_nm = bench.plant.plant.post.extra_nm = 0.0
    next_segment(bench)
    bench.do(Act.RESET)
    assert "acknowledge" in bench.shot.refusal
    assert bench.runner.alarms.book.latched
    bench.do(Act.ACKNOWLEDGE)
    assert bench.runner.alarms.book.latched
    bench.do(Act.RESET)
    assert bench.stays_at_rest(2.0)
    assert not bench.runner.alarms.book.latched
    assert [event["name"] for event in bench.told("alarm_reset")] == [bench.told("stopping")[0]["reason"]]
    bench.do(Act.ARM)
    assert bench.stays_at_rest(1.0)
    assert bench.state is State.ARMED
    bench.do(Act.RUN)
    bench.until(lambda: bench.rpm > 3.0, 20.0)
    bench.parts.close()


def restore_power(bench: Driven) -> None:
    bench.plant.board.restart(messages.BROWN_OUT, bench.plant.now_s)


def plug_in_again(bench: Driven) -> None:
    bench.plant.cable.unplugged = False


def release_the_stop(bench: Driven) -> None:
    bench.plant.board.estop_pressed = False


@pytest.mark.parametrize(
    ("mishap", "comes_back"),
    [("board-reset", restore_power), ("cable-out", plug_in_again), ("estop", release_the_stop)],
)
def test_what_comes_back_moves_nothing(
    tmp_path: Path, mishap: str, comes_back: Callable[[Driven], None]
) -> None:
    """Power back, link back, emergency stop released: the table stays where it is."""
    bench = Driven(tmp_path)
    stopped(bench, mishap)
    bench.go(3.0)
    comes_back(bench)
    assert bench.stays_at_rest(15.0)
    assert bench.plant.truth().board_state in ("disarmed", "tripped")
    bench.parts.close()


def test_a_program_that_is_started_again_moves_nothing_and_says_what_the_board_holds(tmp_path: Path) -> None:
    """Restarted at a board that holds a fault: the fault stands as an alarm, and arming wants its reset."""
    from benchctl.assembly.build import build_simulated

    first = Driven(tmp_path)
    stopped(first, "overload")
    first.plant.forget_mishaps()
    first.plant.plant.table_drag_nm = 0.0
    first.parts.close()
    first.plant.cable.host = HostEnd(first.plant.cable)
    again = Driven(tmp_path)
    again.parts.close()
    again.parts = build_simulated(
        again.job, tmp_path, seed=2, stepped=True, listen=again.events.append, plant=first.plant
    )
    again.plant, again.runner = first.plant, again.parts.runner
    again.stepper = type(again.stepper)(again.parts, None)
    again.stepper.now_s = first.stepper.now_s
    assert again.stays_at_rest(5.0)
    top = again.shot.alarms[0]
    assert (top.name, top.latched) == ("overload", True)
    again.do(Act.ARM)
    assert again.stays_at_rest(2.0)
    assert "is not reset" in again.shot.refusal
    again.parts.close()


def test_a_pressed_emergency_stop_cannot_be_reset(bench: Driven) -> None:
    """The cause must be gone first; then it can."""
    stopped(bench, "estop")
    bench.do(Act.ACKNOWLEDGE)
    bench.do(Act.RESET)
    assert "still there" in bench.shot.refusal
    assert Act.RESET not in bench.shot.allowed
    release_the_stop(bench)
    bench.plant.forget_mishaps()
    bench.go(1.0)
    assert Act.RESET in bench.shot.allowed
    bench.do(Act.RESET)
    bench.go(1.0)
    assert bench.plant.truth().board_state == "disarmed"


def test_a_cause_and_its_consequences_are_one_line(bench: Driven) -> None:
    """The cable goes, then the run permit expires: one line, the second folded beneath the first."""
    bench.polish()
    bench.play("cable-out")
    bench.until(lambda: bench.state is State.STOPPING, 10.0)
    bench.go(3.0)
    plug_in_again(bench)
    bench.go(5.0)
    shot = bench.shot
    assert [alarm.name for alarm in shot.alarms] == ["link_lost"]
    assert [(alarm.name, alarm.cause) for alarm in shot.folded] == [("permit_expired", "link_lost")]
    assert [event["reason"] for event in bench.told("stopping")] == ["link_lost"]


def test_each_change_of_an_alarm_is_in_the_logbook(bench: Driven) -> None:
    """Raised, cleared, acknowledged and reset, each with its segment; it reads back sound."""
    stopped(bench, "lap-stall")
    bench.plant.forget_mishaps()
    bench.do(Act.ACKNOWLEDGE)
    bench.do(Act.RESET)
    bench.go(1.0)
    bench.parts.close()
    book = read(bench.parts.keeper.folder)
    assert book.sound
    records = [entry.fields for entry in book.of_kind("alarm") if entry.fields["name"] == "lap_stalled"]
    assert [fields["what"] for fields in records] == ["raised", "cleared", "acknowledged", "reset"]
    [start] = book.of_kind("segment_start")
    assert {fields["segment"] for fields in records} == {start.id}
