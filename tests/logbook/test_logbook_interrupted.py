"""What a crash left open is closed at the next start."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from benchctl.logbook.interrupted import close_open_segments, open_segments
from benchctl.logbook.reader import read
from benchctl.logbook.segments import end_fields
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.segment_record import SegmentRecord
from tests.logbook.books import AT

PLAN = {"planned_s": 960.0, "mark": 7, "work_rpm": 26.0, "load_n": 189.0, "post_offset_m": 0.128}


def crash_after(folder: Path, polishing_s: float | None) -> str:
    writer = LogbookWriter(folder)
    segment = writer.append("segment_start", PLAN, at=AT, mono_s=0.0)
    if polishing_s is not None:
        later = AT + timedelta(seconds=polishing_s)
        fields = {"polishing_s": polishing_s, "table_turns": polishing_s / 60 * 26}
        writer.progress(segment, {"polishing_s": 1.0}, at=AT, mono_s=1.0)
        writer.progress(segment, fields, at=later, mono_s=polishing_s)
    writer.close()
    return segment


def test_an_open_segment_is_closed_with_what_was_last_known(tmp_path: Path) -> None:
    """A start without an end becomes `segment_interrupted` with its plan, its time run and its turns."""
    segment = crash_after(tmp_path, 678.0)
    writer = LogbookWriter(tmp_path)
    found = close_open_segments(writer, at=AT + timedelta(hours=1), mono_s=5.0)
    writer.close()
    assert [one.segment for one in found] == [segment]
    entry = read(tmp_path).entries[-1]
    assert entry.kind == "segment_interrupted"
    assert entry.fields["segment"] == segment
    assert (entry.fields["polishing_s"], entry.fields["mark"]) == (678.0, 7)
    assert entry.fields["table_turns"] == 678.0 / 60 * 26
    assert (entry.fields["outcome"], entry.fields["stop_reason"]) == ("stopped", "interrupted")
    assert not list((tmp_path / "running").iterdir())


def test_the_sentence_says_what_ran_how_long_and_what_to_do(tmp_path: Path) -> None:
    """The person reads the mark, the minutes, the clock, and to wet the lap before anything else."""
    crash_after(tmp_path, 678.0)
    (one,) = open_segments(tmp_path, read(tmp_path))
    assert one.sentence().startswith(
        "A segment at mark 7 had run 11.3 min when the program ended without warning"
    )
    assert "14:13" in one.sentence()
    assert "Wet the edge of the lap" in one.sentence()


def test_a_segment_that_ran_less_than_a_minute_is_told_in_seconds(tmp_path: Path) -> None:
    """Half a minute is 30 s, not 0.5 min."""
    crash_after(tmp_path, 30.0)
    (one,) = open_segments(tmp_path, read(tmp_path))
    assert "had run 30 s when" in one.sentence()


def test_a_segment_without_progress_is_said_to_be_of_unknown_length(tmp_path: Path) -> None:
    """Nothing is made up where nothing is known."""
    crash_after(tmp_path, None)
    (one,) = open_segments(tmp_path, read(tmp_path))
    assert one.ran_s == 0.0
    assert "nothing is known" in one.sentence()


def test_an_interrupted_segment_is_reported_once(tmp_path: Path) -> None:
    """The second start after a crash finds nothing open."""
    crash_after(tmp_path, 5.0)
    writer = LogbookWriter(tmp_path)
    close_open_segments(writer, at=AT, mono_s=0.0)
    writer.close()
    assert open_segments(tmp_path, read(tmp_path)) == []


def test_torn_progress_costs_its_last_line_only(tmp_path: Path) -> None:
    """Cut anywhere, the progress file still gives its last whole line."""
    segment = crash_after(tmp_path, 678.0)
    path = tmp_path / "running" / f"{segment}.jsonl"
    data = path.read_bytes()
    first = data.index(b"\n") + 1
    for cut in range(first, len(data) - 1):
        path.write_bytes(data[:cut])
        (one,) = open_segments(tmp_path, read(tmp_path))
        assert one.ran_s == 1.0


def test_an_ended_segment_is_not_open(tmp_path: Path) -> None:
    """A segment whose end is kept is over, and its record is read back as it was."""
    record = SegmentRecord(
        outcome="completed",
        stop_kind="planned",
        polishing_s=960.0,
        planned_s=960.0,
        table_turns=412.0,
        lap_turns=375.0,
        useful_turns=405.0,
        wet_down="answered",
        work_rpm=26.0,
        load_n=189.0,
        post_offset_m=0.128,
    )
    writer = LogbookWriter(tmp_path)
    segment = writer.append("segment_start", PLAN, at=AT, mono_s=0.0)
    writer.progress(segment, {"polishing_s": 5.0}, at=AT, mono_s=5.0)
    writer.append("segment_end", end_fields(segment, record), at=AT, mono_s=960.0)
    writer.close()
    book = read(tmp_path)
    assert open_segments(tmp_path, book) == []
    fields = dict(book.entries[-1].fields)
    assert fields.pop("segment") == segment
    assert SegmentRecord.model_validate(fields, context={"si": True}) == record
