"""`benchctl reckon` on the demo's story kept in a logbook."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from benchctl.cli import main
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job_text
from tests.planner.demo_story import write_logbook


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A logbook of the story after 20 segments."""
    write_logbook(tmp_path / "book", 20)
    return tmp_path / "book"


def told(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    """The JSON that the command prints; it must end well."""
    assert main(["reckon", "demo", *words, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_whole_reckoning(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From the logbook alone: zone 1 is last, a move in is suggested, with ranges for every ring."""
    found = told(capsys, "--logbook", str(folder))

    assert found["segments_done"] == 20
    assert found["last_zone"]["zone"] == "1"
    assert found["suggestion"]["act"] == "post"
    assert all(
        low <= likely <= high for low, likely, high in (row["segments_left"] for row in found["rings"])
    )


def test_the_logbook_is_the_one_that_the_file_names(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A mirror's file names its logbook; a rehearsal lies in a folder inside it."""
    own = tmp_path / "own.toml"
    own.write_text('logbook = "book"\n' + demo_job_text())
    assert main(["reckon", str(own), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["segments_done"] == 20
    assert main(["reckon", str(own), "--rehearsal"]) == 2
    assert str(folder / "rehearsal") in capsys.readouterr().err


def test_in_words(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same for a person, within 80 columns and with nothing cut off, in either system of units."""
    for units, move in (("metric", "mm inward"), ("inch", "in inward")):
        assert main(["--units", units, "reckon", "demo", "--logbook", str(folder)]) == 0
        lines = capsys.readouterr().out.splitlines()

        assert max(map(len, lines)) <= 80
        assert any(line.startswith("Suggestion: post") and move in line for line in lines)


def test_as_it_was_after_one_segment(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`--after` goes back in the log, when one could not tell yet."""
    found = told(capsys, "--logbook", str(folder), "--after", "1")

    assert found["segments_done"] == 1
    assert found["last_zone"]["verdict"] == "cannot tell yet"


def test_post_in_three_millimetres_and_two_segments_more(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The what-if by zone, from the log's real state."""
    found = told(capsys, "--logbook", str(folder), "--post-in", "3 mm", "--segments", "2")

    assert found["change"] == {"post_m": -0.003, "load_share": 1.0, "segments": 2}
    assert found["effect"][0] > 0 > found["effect"][4]
    assert len(found["depth_left_m"]) == 6


def test_a_sitting_of_two_hours(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sitting's segments and marks; the same seed draws the same marks."""
    once, again = (told(capsys, "--logbook", str(folder), "--sitting", "2 h", "--seed", "5") for _ in "ab")

    assert once == again
    assert once["segments"] == len(once["marks"]) >= 2


def test_a_declined_suggestion_is_kept_with_the_reason(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Decision and reason are a record of the logbook, and the move is not asked for again at once."""
    found = told(capsys, "--logbook", str(folder), "--decide", "declined", "--why", "the edge is worse")

    kept = list(read(folder).of_kind("decision"))[-1].fields
    assert kept["why"] == "the edge is worse"
    assert kept["taken"] == "declined"
    assert kept["advised"] == found["advised"]
    after = told(capsys, "--logbook", str(folder))["suggestion"]
    assert after is None or after["act"] != "post"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--logbook", "nowhere"], "no logbook in nowhere"),
        (["--post-in", "3 mm", "--post-out", "1 mm"], "one of them"),
        (["--post-in", "3 apples"], "apples"),
        (["--sitting", "10 min"], "not one segment fits"),
        (["--after", "99"], "20 segments"),
        (["--sitting", "2 h", "--post-in", "3 mm"], "two questions"),
        (["--decide", "accepted", "--after", "12"], "as it stands now"),
        (["--why", "the edge is worse"], "give it with --decide"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    """Exit 2 and one sentence on standard error; nothing on standard output."""
    place = [] if "--logbook" in words else ["--logbook", str(folder)]

    assert main(["reckon", "demo", *place, *words]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    assert said in error
