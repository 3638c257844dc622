"""What must be right before the board is asked to arm."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from benchctl.clock import SteppedClock
from benchctl.errors import BadInput
from benchctl.models.job import demo_job, demo_job_text, parse_job
from benchctl.models.readings import Refused
from benchctl.physics.stopping import loose_weight_rpm
from benchctl.segment.states import On, State
from benchctl.session.acts import Act, Done
from firmware_protocol.settings import with_value
from tests.session.driven import Driven


def job_text(work: str = "26 rpm", captured: bool = True, radius: str = "60 mm") -> str:
    """The demo job with another working speed and other weights."""
    text = demo_job_text()
    for old, new in (
        ('work_speed = "26 rpm"', f'work_speed = "{work}"'),
        ("weights_captured = true", f"weights_captured = {str(captured).lower()}"),
        ('weights_radius = "60 mm"', f'weights_radius = "{radius}"'),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return text


def driven(folder: Path, **changes: object) -> Driven:
    """A bench with such a job, connected."""
    bench = Driven(folder, parse_job(job_text(**changes).encode(), "the test's job"))  # type: ignore[arg-type]
    bench.go(2.0)
    return bench


def test_a_full_disk_is_no_place_to_begin(bench: Driven) -> None:
    """Less than 50 MB free: arming is refused with the logbook's own sentence, and advice stands before."""
    bench.runner.journal.room = lambda: "only 3 MB free where the logbook is kept"
    bench.go(31.0)
    assert [alarm.name for alarm in bench.shot.alarms] == ["disk_low"]
    bench.do(Act.ARM)
    assert bench.state is State.READY
    assert "only 3 MB free" in bench.shot.refusal
    assert "board_armed" not in bench.names()
    bench.runner.journal.room = lambda: None
    bench.do(Act.ARM)
    assert bench.shot.refusal == ""
    bench.until(lambda: bench.state is State.ARMED, 3.0)


def test_loose_weights_lower_the_ceiling_before_arming(tmp_path: Path) -> None:
    """At 60 mm they stay put up to 50 rpm (mu 0.25, safety 1.5): within the job's own 45. At 100 mm up to
    39 rpm, and the board is armed with that."""
    bench = driven(tmp_path / "near", captured=False)
    bench.do(Act.ARM)
    assert bench.runner.engine.ceiling_rpm == 45.0
    bench.parts.close()
    bench = driven(tmp_path / "far", captured=False, radius="100 mm")
    bench.do(Act.ARM)
    highest = loose_weight_rpm(0.1)
    assert highest == pytest.approx(39.0, abs=0.5)
    assert bench.runner.engine.ceiling_rpm == pytest.approx(highest)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    assert bench.plant.board.controller.motion._ceiling == round(highest * 1000)
    bench.parts.close()


def test_a_speed_at_which_loose_weights_fly_off_is_refused(tmp_path: Path) -> None:
    """At 150 mm they stay put up to 32 rpm: 35 rpm is refused in one sentence; held, it is not."""
    loose = driven(tmp_path / "loose", work="35 rpm", captured=False, radius="150 mm")
    loose.do(Act.ARM)
    assert loose.state is State.READY
    for part in ("150 mm", "32 rpm", "35 rpm"):
        assert part in loose.shot.refusal
    loose.parts.close()
    held = driven(tmp_path / "held", work="35 rpm", radius="150 mm")
    held.do(Act.ARM)
    held.until(lambda: held.state is State.ARMED, 3.0)
    held.parts.close()


def test_a_board_with_a_lower_ceiling_is_not_armed_for_more(tmp_path: Path) -> None:
    """The board's stored 20 rpm against the job's 26: one sentence with both, and nothing is asked of it."""
    bench = Driven(tmp_path)
    controller = bench.plant.board.controller
    controller.motion.refit(with_value(controller.settings, 3, 20000))
    bench.go(2.0)
    bench.do(Act.ARM)
    assert bench.state is State.READY
    assert "26 rpm" in bench.shot.refusal
    assert "20 rpm" in bench.shot.refusal
    bench.parts.close()


def test_a_job_may_lower_the_ceiling_never_raise_it(tmp_path: Path) -> None:
    """With the job's ceiling over the board's, the board's is what counts for faster."""
    bench = Driven(tmp_path)
    controller = bench.plant.board.controller
    controller.motion.refit(with_value(controller.settings, 3, 27000))
    bench.polish()
    bench.do(Act.FASTER)
    assert bench.runner.engine.target_rpm == 27.0
    bench.do(Act.FASTER)
    assert bench.runner.engine.target_rpm == 27.0
    assert "27 rpm" in bench.shot.refusal or "27 rpm" in str(bench.told("refused")[-1]["why"])
    assert bench.shot.ceiling_rpm == 27.0
    bench.parts.close()


SILLY = ['"0 rpm"', '"500 rpm"', '"-5 rpm"', "nan", "inf", "1e309", '"１２ rpm"', '"1,5 rpm"', '""', "true"]


@pytest.mark.parametrize("value", SILLY)
def test_a_silly_speed_is_refused_never_clamped(value: str) -> None:
    """Nothing, too much, backwards, no number, wide digits, a comma: refused by the name of the field."""
    text = demo_job_text().replace('work_speed = "26 rpm"', f"work_speed = {value}", 1)
    with pytest.raises(BadInput, match=r"segment\.work_speed"):
        parse_job(text.encode(), "job.toml")


@pytest.mark.parametrize("value", ['"-5 min"', '"0 min"', "inf", '"1e309 s"', '"１５ min"', '"1,5 min"'])
def test_a_silly_time_is_refused_never_clamped(value: str) -> None:
    """The same for the segment's length."""
    text = demo_job_text().replace('length = "16 min"', f"length = {value}", 1)
    assert text != demo_job_text()
    with pytest.raises(BadInput, match=r"segment\.length"):
        parse_job(text.encode(), "job.toml")


@pytest.mark.parametrize("rpm", [0.0, -5.0, 500.0, float("nan"), float("inf")])
def test_the_board_refuses_silly_speeds_by_itself(bench: Driven, rpm: float) -> None:
    """Sent past all checks of the host, they change nothing of what the board does."""
    bench.polish()
    bench.parts.link.set_speed(bench.stepper.host_s, rpm)
    bench.go(3.0)
    assert bench.rpm == pytest.approx(26.0, abs=0.5)
    assert any(event.get("what") == "set_speed" for event in bench.told("refused"))


def test_a_refused_start_ends_the_command_with_2(tmp_path: Path) -> None:
    """Without a face nobody can mend it: the sentence on standard error, exit status 2, no record."""
    import subprocess
    import sys

    path = tmp_path / "loose.toml"
    path.write_text(job_text(work="35 rpm", captured=False, radius="150 mm"), encoding="utf-8")
    words = ["run", str(path), "--headless", "--simulated", "--pace", "max", "--json"]
    done = subprocess.run(
        [sys.executable, "-m", "benchctl", *words, "--logbook", str(tmp_path / "log")],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "stay put up to 32 rpm" in done.stderr
    assert [json.loads(line)["event"] for line in done.stdout.splitlines()] == ["refused"]


def test_the_demo_job_itself_may_start(bench: Driven) -> None:
    """Without any of this it arms."""
    assert bench.job == demo_job().with_minutes(6.0)
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)


@pytest.mark.parametrize("held_up_s", [2.0, 5.0, 9.0])
def test_a_start_begun_before_the_program_was_held_up_is_given_up(bench: Driven, held_up_s: float) -> None:
    """Armed, then held up for seconds with RUN waiting: nothing turns, and it says to arm again."""
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    bench.runner.do(Done(Act.RUN))
    bench.hold_up(held_up_s)
    assert bench.stays_at_rest(10.0)
    assert bench.state is State.READY
    assert "arm again" in bench.shot.refusal
    assert bench.plant.truth().board_state == "disarmed"
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)


def test_a_stop_that_waited_is_carried_out_however_late(bench: Driven) -> None:
    """Held up while the table turns: the STOP given meanwhile still goes out."""
    bench.polish()
    bench.runner.do(Done(Act.STOP))
    bench.hold_up(0.3)
    bench.go(0.3)
    assert bench.state is State.STOPPING


def test_sleep_while_armed_is_no_start(bench: Driven) -> None:
    """Asleep between arming and running: on waking nothing starts."""
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    bench.runner.do(Done(Act.RUN))
    clock = bench.parts.clock
    assert isinstance(clock, SteppedClock)
    clock.suspend(4.0)
    bench.hold_up(4.0)
    assert bench.stays_at_rest(10.0)
    assert bench.state is State.READY


def test_a_run_that_nobody_answers_is_stopped(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """The board takes RUN and its answer is lost: STOP goes out at once, and the record says so."""
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    bench.go(0.9)
    with monkeypatch.context() as deaf:
        deaf.setattr(bench.plant.cable, "board_writes", lambda data: None)
        bench.do(Act.RUN)
        bench.until(lambda: bench.state is not State.STARTING, 1.0)
        assert bench.plant.truth().board_state == "running"
        bench.go(0.15)
        assert bench.plant.truth().board_state == "slowing"
    bench.until(lambda: bench.state is State.STANDING)
    record = bench.runner.books.record
    assert record is not None
    assert (record.outcome, record.stop_reason) == ("stopped", "start_unanswered")


def test_a_start_that_waits_for_the_disk_is_void_after_a_stop(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RUN waits for its record; STOP comes meanwhile: once the disk takes the record, no RUN goes out."""
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    bench.go(0.9)
    asked: list[object] = []
    monkeypatch.setattr(bench.parts.link, "run", lambda *order: asked.append(order))
    with monkeypatch.context() as slow_disk:
        slow_disk.setattr(bench.runner.books, "may_start", lambda: False)
        bench.do(Act.RUN)
        assert bench.state is State.STARTING
        bench.do(Act.STOP)
    assert bench.runner.books.may_start()
    bench.go(1.0)
    assert asked == []


def test_an_arm_that_nobody_answers_is_taken_back(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """The board arms and its answer is lost: it is disarmed again, and may be armed anew."""
    bench.go(2.0)
    with monkeypatch.context() as deaf:
        deaf.setattr(bench.plant.cable, "board_writes", lambda data: None)
        bench.do(Act.ARM)
        bench.until(lambda: bench.state is State.READY, 2.0)
        bench.go(0.15)
        assert bench.plant.truth().board_state == "disarmed"
    assert "did not answer" in bench.shot.refusal


def test_a_board_that_is_disarmed_is_not_shown_armed(bench: Driven) -> None:
    """The pedal held down, or somebody else's STOP, disarms the board: the segment is ready, not armed."""
    bench.go(2.0)
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
    bench.plant.pedal_stuck = True
    bench.go(1.5)
    assert bench.plant.truth().board_state == "disarmed"
    assert bench.state is State.READY
    assert bench.told("disarmed")[-1]["why"] == "pedal_stop"


@pytest.mark.parametrize("what", ["call", "reset", "set_speed", "hello"])
def test_what_is_refused_besides_is_no_answer_to_arming(bench: Driven, what: str) -> None:
    """A refusal of something else, while the board's answer to ARM is awaited, does not end the wait."""
    bench.go(2.0)
    bench.runner.event(On.ARM, bench.stepper.host_s)
    bench.runner.listening.take(Refused(1.0, what, "stale"), bench.stepper.host_s)
    assert bench.state is State.ARMING
    bench.until(lambda: bench.state is State.ARMED, 3.0)


def test_a_port_driven_as_root_is_advice_while_nothing_turns(bench: Driven) -> None:
    """It stands before the start, can be put aside, and keeps nothing from arming."""
    warning = "warning: driving /dev/ttyACM0 as root; another program of root could open the port too"
    bench.runner.facts = replace(bench.runner.facts, port_warning=warning)
    bench.go(2.0)
    [alarm] = bench.shot.alarms
    assert (alarm.name, alarm.priority, alarm.detail) == ("port_as_root", 3, warning)
    bench.do(Act.SHELVE)
    assert bench.shot.alarms == ()
    bench.do(Act.ARM)
    bench.until(lambda: bench.state is State.ARMED, 3.0)
