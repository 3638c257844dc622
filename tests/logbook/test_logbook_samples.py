"""Kept logbooks of every schema and of every kind of record: whatever changes, they are read as they were."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from benchctl.cli import main
from benchctl.cli.logbook import QUESTIONS
from benchctl.logbook.blemishes import told_apart
from benchctl.logbook.export import WHATS, rows
from benchctl.logbook.reader import read
from benchctl.logbook.segments import inspections, segments
from benchctl.models.kept import check_fields, known_fields

SAMPLES = Path(__file__).parent / "samples"
EACH = pytest.mark.parametrize("sample", sorted(path.name for path in SAMPLES.iterdir()))


@EACH
def test_a_kept_logbook_is_sound_read_either_way(sample: str) -> None:
    """Every line is an intact record in an unbroken row, and quick reading gives the same records."""
    book = read(SAMPLES / sample)
    assert book.sound
    assert len(book.entries) > 5
    assert read(SAMPLES / sample, quick=True).entries == book.entries


@EACH
def test_every_command_takes_a_kept_logbook(
    sample: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """List, show, export, SQL, the ten questions, the report and the check."""
    where = ["--logbook", str(SAMPLES / sample)]
    commands = [["list"], ["list", "--json"], ["verify"], ["sql", "select count(*) as n from records"]]
    commands += [["export", form, "-", "--what", what] for form in ("--csv", "--json") for what in WHATS]
    commands += [["ask", name, "--marks", "13"] if name == "marks" else ["ask", name] for name in QUESTIONS]
    commands += [["show", entry.id] for entry in read(SAMPLES / sample).entries]
    commands += [["report", "--html", str(tmp_path / "report.html")]]
    for words in commands:
        assert main(["logbook", *words, *where]) == 0, words
        assert "Traceback" not in capsys.readouterr().err


@EACH
def test_the_records_of_a_kept_logbook_fit_their_models(sample: str) -> None:
    """What was written then could be written now: no field of a model was renamed or taken away.

    The very first presses had no model; the page on the format says what they had.
    """
    for entry in read(SAMPLES / sample).entries:
        modelled = entry.kind != "press" or "event" in entry.fields
        if (known := known_fields(entry.kind)) and modelled:
            fields = {key: value for key, value in entry.fields.items() if key in known}
            check_fields(entry.kind, fields)


@EACH
def test_pandas_reads_a_kept_logbook_in_one_line(sample: str) -> None:
    """A row a record, whatever the kind."""
    table = pd.read_json(SAMPLES / sample / "logbook.jsonl", lines=True)
    assert list(table["n"]) == list(range(1, len(read(SAMPLES / sample).entries) + 1))


def test_a_whole_look_a_decision_and_a_press_are_what_they_were() -> None:
    """The figures of the sample with every kind, as they were kept."""
    book = read(SAMPLES / "schema-1-whole")
    assert {entry.kind for entry in book.entries} >= {
        "session_start", "press_start", "press", "mark_draw", "segment_start", "segment_end", "inspection",
        "note", "decision", "alarm", "clock", "correction",
    }  # fmt: skip
    first, second, third = inspections(book)
    zones = rows(book, "zones")
    assert (zones[0]["steepest_angle_deg"], first.fields["glass_temperature_c"]) == (2.0, 20.5)
    assert [row["pits_too_many"] for row in zones[6:12]] == [True, True, True, False, True, True]
    assert zones[9]["pits_mean"] == 44.0
    assert third.fields["note"] == "lamp was low"
    assert [(one.kind, one.looks) for one in told_apart([first, second])] == [("sleek", 2), ("pit", 1)]
    assert segments(book)[0].fields["zone_depths_m"][0] == 2.26764e-07
    (decision,) = book.of_kind("decision")
    assert decision.fields["predicted"]["zones"] == [-0.06, -0.02, 0.01, 0.03, 0.04]
    (press,) = book.of_kind("press")
    assert (press.fields["length_s"], press.fields["turned_deg"]) == (1331.5, 90.0)


def test_the_first_sample_lists_as_it_did(capsys: pytest.CaptureFixture[str]) -> None:
    """First and last segment of the logbook that was kept first."""
    assert main(["logbook", "list", "--json", "--logbook", str(SAMPLES / "schema-1")]) == 0
    first, *_, last = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert (first["mark"], first["table_turns"]) == (2, 413.2)
    assert (last["stop_reason"], last["polishing_s"]) == ("interrupted", 312.0)
