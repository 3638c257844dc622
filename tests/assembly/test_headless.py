"""A segment without a screen: what a person can mend is waited for, what nobody can is given up."""

from __future__ import annotations

import io
import os
import threading
import time
from pathlib import Path

import pytest

from benchctl.assembly import headless
from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.headless import Headless, Person
from benchctl.assembly.rehearsal import rehearsal_loop
from benchctl.models.job import demo_job
from benchctl.session.acts import Act
from benchctl.session.live import BenchLoop
from firmware_protocol import reasons


def bench(folder: Path) -> tuple[Parts, BenchLoop]:
    """A simulated bench whose board holds a fault from before this program began."""
    parts = build_simulated(demo_job().with_minutes(3.0), folder, seed=1, stepped=False)
    assert parts.plant is not None
    parts.plant.advance(1.0)
    parts.plant.board.controller.motion._settle(reasons.CONTROLLED_THEN_OFF, reasons.LAP_STALLED)
    assert parts.plant.board.state == "tripped"
    loop = rehearsal_loop(parts, 1.0)
    loop.start()
    return parts, loop


def test_with_nobody_there_a_refused_start_is_given_up(tmp_path: Path) -> None:
    """The fault waits for its reset, and no line will come: the run ends, nothing has moved."""
    parts, loop = bench(tmp_path)
    runs = Headless(parts, loop, parts.clock, Person(None, print), start=True)
    runs.run(lambda: None)
    assert "is not reset" in parts.runner.at.refusal
    loop.stop_and_close()
    parts.close()
    assert parts.plant is not None
    assert parts.plant.truth().table_rpm == 0.0


def test_a_terminal_that_has_gone_is_nobody() -> None:
    """A stream that fails in the middle: what was typed before counts, and nobody is there any more."""

    class Gone(io.StringIO):
        def __next__(self) -> str:
            line = super().readline()
            if not line:
                raise OSError("the terminal has gone")
            return line

    said: list[str] = []
    person = Person(Gone("stop\nhalt\n"), said.append)
    found: list[Act] = []
    for _ in range(200):
        found += person.acts()
        if person.gone:
            break
        time.sleep(0.01)
    assert person.gone
    assert found == [Act.STOP]
    assert len(said) == 1
    assert said[0].startswith("not an act; known are")


def test_a_person_acknowledges_resets_and_runs_by_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """acknowledge, reset, run: each line one act; the table turns after the last."""
    monkeypatch.setattr(headless, "ARM_AGAIN_REFUSED_S", 1.5)
    parts, loop = bench(tmp_path)
    far, near = os.pipe()
    with os.fdopen(far) as source, os.fdopen(near, "w", buffering=1) as hand:
        runs = Headless(parts, loop, parts.clock, Person(source, print), start=False)
        told: list[str] = []

        def watch() -> None:
            state, engine = parts.runner.alarms.book, parts.runner.engine
            if parts.runner.at.not_armed and not told:
                told.append("acknowledge")
                hand.write("acknowledge\n")
            elif told == ["acknowledge"] and state.why_not_reset() is None:
                told.append("reset")
                hand.write("reset\n")
            elif engine.state == "armed" and told == ["acknowledge", "reset"]:
                told.append("run")
                threading.Timer(0.8, hand.write, ("run\n",)).start()
            elif engine.turning and told[-1:] == ["run"]:
                told.append("turned")
                hand.write("stop\n")

        runs.run(watch)
    loop.stop_and_close()
    parts.close()
    assert told == ["acknowledge", "reset", "run", "turned"]
    record = parts.runner.books.record
    assert record is not None
    assert (record.outcome, record.stop_reason) == ("stopped", "person")
