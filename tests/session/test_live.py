"""The bench loop: acts reach the runner, a silent face ends the permit, a crash stops the table first."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.rehearsal import rehearsal_loop
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.live import BenchLoop

pytestmark = pytest.mark.live


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[Parts, BenchLoop]]:
    """A simulated bench at twenty times life's pace."""
    parts = build_simulated(demo_job().with_minutes(3.0), tmp_path, seed=1, stepped=False)
    loop = rehearsal_loop(parts, 20.0)
    loop.start()
    yield parts, loop
    loop.stop_and_close()
    parts.close()


def until(loop: BenchLoop, seen: Callable[[], bool], limit_s: float = 20.0, answer: bool = True) -> None:
    """Look until `seen`, telling the loop that the face is alive."""
    end = time.monotonic() + limit_s
    while not seen():
        assert loop.crash is None
        assert time.monotonic() < end, f"waited in {loop.snapshot().state}"
        if answer:
            loop.answer()
        time.sleep(0.02)


def start(loop: BenchLoop) -> None:
    """Arm and run, as a person does; a board that just started may refuse the first arm."""
    for _ in range(5):
        loop.do(Done(Act.ARM))
        end = time.monotonic() + 1.5
        while loop.snapshot().state is not State.ARMED and time.monotonic() < end:
            loop.answer()
            time.sleep(0.02)
        if loop.snapshot().state is State.ARMED:
            break
    time.sleep(0.7)
    loop.do(Done(Act.RUN))
    until(loop, lambda: loop.snapshot().state is State.CREEP)


def test_a_segment_is_started_and_stopped_by_acts(bench: tuple[Parts, BenchLoop]) -> None:
    """Arm and run turn the table by its sensor; STOP brings it to rest and asks for the lap to be lifted."""
    _, loop = bench
    start(loop)
    until(loop, lambda: loop.snapshot().turning)
    loop.do(Done(Act.STOP))
    until(loop, lambda: loop.snapshot().state is State.STANDING)
    shot = loop.snapshot()
    assert not shot.turning
    assert shot.stop_reason == "person"
    assert "ift" in shot.do_now


def test_run_without_arm_does_nothing(bench: tuple[Parts, BenchLoop]) -> None:
    """One act alone never starts the table."""
    parts, loop = bench
    until(loop, lambda: loop.snapshot().link == "connected")
    loop.do(Done(Act.RUN))
    time.sleep(0.5)
    assert loop.snapshot().state is State.READY
    assert parts.plant is not None
    assert parts.plant.truth().table_rpm == 0.0


def test_a_silent_face_ends_the_permit(
    bench: tuple[Parts, BenchLoop], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A face that does not answer for its patience loses the permit, and the board stops by itself."""
    monkeypatch.setattr("benchctl.session.live.FACE_PATIENCE_S", 0.3)
    _, loop = bench
    start(loop)
    until(loop, lambda: loop.snapshot().state is State.STANDING, answer=False)
    shot = loop.snapshot()
    assert shot.stop_reason == "permit_expired"
    assert "the screen did not answer" in shot.stop_detail


@pytest.mark.parametrize("where", ["judging", "reading the port"])
def test_an_error_in_a_step_stops_the_table(
    bench: tuple[Parts, BenchLoop], monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """An exception in the loop sends STOP before the loop ends, and is kept for whoever asks."""
    parts, loop = bench
    start(loop)
    sent: list[str] = []
    stop = parts.link.stop
    monkeypatch.setattr(
        parts.link, "stop", lambda now_s, planned, reason: (sent.append(reason), stop(now_s, planned, reason))
    )

    def fail(*_: object) -> None:
        raise RuntimeError("broken on purpose")

    if where == "judging":
        monkeypatch.setattr(parts.runner, "_judge", fail)
    else:
        monkeypatch.setattr(parts.link, "poll", fail)
    end = time.monotonic() + 5.0
    while loop.crash is None and time.monotonic() < end:
        loop.answer()
        time.sleep(0.02)
    assert isinstance(loop.crash, RuntimeError)
    assert sent == ["program_error"] * 3
    assert parts.plant is not None
    plant = parts.plant
    plant.advance(plant.now_s + 6.0)
    assert plant.truth().table_rpm == 0.0
    parts.close()
    notes = [entry.fields["text"] for entry in read(parts.keeper.folder).of_kind("note")]
    assert any("program error while" in text and "broken on purpose" in text for text in notes)


def test_closing_stops_first(tmp_path: Path) -> None:
    """Closing the bench while it turns stops the table, keeps the record, then ends."""
    parts = build_simulated(demo_job().with_minutes(3.0), tmp_path, seed=1, stepped=False)
    loop = rehearsal_loop(parts, 20.0)
    loop.start()
    start(loop)
    until(loop, lambda: loop.snapshot().turning)
    loop.stop_and_close()
    record = parts.runner.books.record
    parts.close()
    assert record is not None
    assert (record.outcome, record.stop_reason) == ("stopped", "person")
    assert parts.plant is not None
    assert parts.plant.truth().table_rpm == 0.0


def test_pace_is_lifes_while_a_person_is_waited_for(bench: tuple[Parts, BenchLoop]) -> None:
    """However fast it was set, the simulated bench does not hurry a person."""
    _, loop = bench
    assert loop.pace == 1.0
    start(loop)
    assert loop.pace == 20.0
    loop.set_pace(1e9)
    assert loop.pace_set == 200.0


@pytest.mark.parametrize(
    ("mishap", "event"), [("clock-jump", "clock_jump"), ("suspend", "suspend"), ("host-hang", "step_late")]
)
def test_the_computers_mishaps_are_played_at_lifes_pace_too(tmp_path: Path, mishap: str, event: str) -> None:
    """Set off from the screen, they befall this program: each is told."""
    told: list[dict[str, object]] = []
    parts = build_simulated(demo_job().with_minutes(6.0), tmp_path, seed=1, stepped=False, listen=told.append)
    loop = rehearsal_loop(parts, 100.0)
    loop.start()
    start(loop)
    until(loop, lambda: loop.snapshot().turning)
    parts.play(mishap)
    until(loop, lambda: any(one["event"] == event for one in list(told)), 30.0)
    loop.stop_and_close()
    parts.close()
