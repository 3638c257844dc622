"""`benchctl press` from outside: events, record, refusals, and a press that was cut off."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from benchctl.cli import main
from benchctl.logbook.presses import presses
from benchctl.logbook.reader import read

Done = tuple[int, list[dict[str, Any]], str]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of the test's own."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path / "home"))
    return tmp_path


def press(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> Done:
    """Run the demo press in simulated time; exit status, the lines of standard output, standard error."""
    status = main(["press", "demo", "--pace", "max", "--json", "--logbook", str(folder), *words])
    out, err = capsys.readouterr()
    return status, [json.loads(line) for line in out.splitlines()], err


def test_a_press_with_its_shift_is_told_and_kept(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Shift at 11 of 22 minutes, water every 6, both places in the record, and the same in the logbook."""
    status, lines, err = press(capsys, home / "book", "--minutes", "22", "--load", "9 kg")
    assert status == 0
    *events, record = lines
    at = {line["event"]: line["at_s"] for line in reversed(events)}
    assert (at["shift_called"], at["shifted"], at["rewet_called"]) == (660.0, 675.0, 360.0)
    assert at["press_time_up"] == 675.0 + 660.0
    assert record["event"] == "press_record"
    assert (record["first_place_m"], record["second_place_m"]) == (0.128, pytest.approx(0.066))
    assert record["settled_low_m"] < record["settled_high_m"]
    assert "slide it by 62 mm" in err
    (kept,) = presses(read(home / "book"))
    assert kept.fields | record == kept.fields
    assert not list((home / "book" / "running").glob("*"))


@pytest.mark.parametrize(
    ("units", "begun", "by", "place"),
    [("metric", "9.0 kg", "62 mm", "66 mm"), ("inch", "19.8 lb", "2.44 in", "2.60 in")],
)
def test_a_press_is_told_in_the_units_that_the_person_chose(
    home: Path, capsys: pytest.CaptureFixture[str], units: str, begun: str, by: str, place: str
) -> None:
    """The plan and each event; the events of --json stay in SI."""
    press(capsys, home / "json", "--load", "9 kg", "--units", units)
    words = ["press", "demo", "--pace", "max", "--load", "9 kg", "--minutes", "22", "--units", units]
    assert main([*words, "--logbook", str(home / "book")]) == 0
    told = capsys.readouterr().err
    assert f"Cold press begun {begun} 22 min" in told
    assert f"Called to shift the lap by {by}" in told
    assert f"Lap shifted and turned, its centre now off the mirror's by {place}" in told


@pytest.mark.parametrize(
    ("person", "status", "outcome", "shifted"),
    [("attentive", 0, "completed", True), ("slow", 0, "completed", True), ("absent", 3, "not_lifted", False)],
)
def test_who_answers_decides_how_it_ends(
    home: Path,
    capsys: pytest.CaptureFixture[str],
    person: str,
    status: int,
    outcome: str,
    shifted: bool,
) -> None:
    """Nobody there: the press ends by itself and says that the lap still stands there."""
    done, lines, _ = press(capsys, home / "book", "--operator", person)
    assert (done, lines[-1]["outcome"], lines[-1]["shifted"]) == (status, outcome, shifted)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--minutes", "nan"), "press.length"),
        (("--minutes", "0"), "press.length: 0 s must be at least 60 s"),
        (("--load", "9"), "'9' needs a unit"),
        (("--load", "9 m"), "'9 m' is not a mass"),
        (("--load", "-9 kg"), "press.load: -9 kg must be more than 0 kg"),
        (("--temperature", "90 degC"), "temperature: 90 degC must be at most 50 degC"),
    ],
)
def test_refusals_leave_no_logbook_behind(
    home: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, str], sentence: str
) -> None:
    """One sentence, exit 2, nothing written."""
    status, lines, err = press(capsys, home / "book", *words)
    assert (status, lines, err.count("\n")) == (2, [], 1)
    assert sentence in err
    assert not (home / "book").exists()


def begun(home: Path, *words: str) -> subprocess.Popen[str]:
    """A press in life's time in a process of its own, once its start is in the logbook."""
    process = subprocess.Popen(
        [sys.executable, "-m", "benchctl", "press", "demo", "--logbook", str(home / "book"), *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    end = time.monotonic() + 30.0
    while not any((home / "book" / "running").glob("*.jsonl")):
        assert process.poll() is None
        assert time.monotonic() < end
        time.sleep(0.1)
    return process


def test_a_press_that_was_killed_is_told_at_the_next_start(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its record says interrupted and how far it was; the sentence says what to do to the lap."""
    process = begun(home)
    process.kill()
    process.communicate(timeout=10)
    status, _, err = press(capsys, home / "book")
    assert status == 0
    first = next(line for line in err.splitlines() if line.startswith("▲"))
    assert "of 22 min when the program ended at" in first
    assert "never pull it up" in first
    cut_off, whole = presses(read(home / "book"))
    assert (cut_off.fields["outcome"], whole.fields["outcome"]) == ("interrupted", "completed")
    assert (cut_off.fields["load_kg"], cut_off.fields["first_place_m"]) == (9.0, 0.128)
    assert read(home / "book").sound


def test_typed_words_and_a_signal_end_it_with_a_record(home: Path) -> None:
    """Shifted and wetted by typing; Ctrl-C ends it early, and the record says so."""
    process = begun(home)
    assert process.stdin is not None
    process.stdin.write("s\nfoo\ntemperature 26 degC\nnote sticky at one side\n")
    process.stdin.flush()
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=20)
    assert process.returncode == 3
    (kept,) = presses(read(home / "book"))
    assert (kept.fields["outcome"], kept.fields["shifted"]) == ("ended_early", True)
    assert (kept.fields["room_temperature_c"], kept.fields["room_temperature_end_c"]) == (20.0, 26.0)
    assert kept.fields["note"] == "sticky at one side"
    assert "'foo' is no word for a press" in err
    assert "6.0 K warmer than at the start" in err
