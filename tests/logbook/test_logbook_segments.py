"""Segments joined from their records, corrected, exported, and asked of in SQL."""

from __future__ import annotations

import csv
import io
import json
import zlib
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchctl.errors import BadInput
from benchctl.logbook.additions import add_correction, add_note
from benchctl.logbook.export import rows, to_csv, to_json, whole_record, write_whole
from benchctl.logbook.lines import FIRST_PREV
from benchctl.logbook.query import ask
from benchctl.logbook.reader import FILE_NAME, Logbook, read
from benchctl.logbook.segments import find_segment, inspection_due, segments
from benchctl.logbook.writer import LogbookWriter
from tests.logbook.books import AT, STALLED, Story, tokens, write_story


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book")
    write_story(folder, 12)
    return folder


def test_a_segment_is_its_end_with_the_facts_of_its_start(folder: Path) -> None:
    """Times come from start and end, figures from the end, room and radius from the start."""
    first = segments(read(folder))[0]
    assert (first.number, first.started_at < first.ended_at) == (1, True)
    assert first.fields["outcome"] == "completed"
    assert first.fields["room_temperature_c"] == 20.0


def test_quick_reading_reads_the_same(folder: Path) -> None:
    """Reading fields when asked for gives the same records and the same segments."""
    whole, quick = read(folder), read(folder, quick=True)
    assert quick.entries == whole.entries
    assert (quick.sound, quick.next_n, quick.last_crc) == (whole.sound, whole.next_n, whole.last_crc)
    assert [one.flat() for one in segments(quick)] == [one.flat() for one in segments(whole)]


def test_a_segment_is_found_by_number_and_by_both_ids(folder: Path) -> None:
    """12 and the ids of its start and its end name the twelfth; 13, 0 and nonsense name none."""
    found = segments(read(folder))
    twelfth = found[11]
    assert [find_segment(found, name) for name in ("12", twelfth.id, twelfth.end.id)] == [twelfth] * 3
    assert [find_segment(found, name) for name in ("13", "0", "x", "")] == [None] * 4


def corrected(folder: Path, name: str, *changes: str) -> Logbook:
    writer = LogbookWriter(folder)
    try:
        add_correction(writer, name, changes, "misread", AT, 0.0)
    finally:
        writer.close()
    return read(folder)


def test_a_correction_is_added_and_the_old_record_stays(tmp_path: Path) -> None:
    """The segment shows the corrected mark; the file only grew, and both records are in it."""
    write_story(tmp_path, 3)
    before = (tmp_path / FILE_NAME).read_bytes()
    old = segments(read(tmp_path))[1]
    book = corrected(tmp_path, "2", "mark=9", "note=set by hand")
    assert (tmp_path / FILE_NAME).read_bytes().startswith(before)
    new = segments(book)[1]
    assert (new.fields["mark"], new.fields["note"]) == (9, "set by hand")
    assert new.flat()["corrected_by"] == [book.entries[-1].id]
    assert old.end in book.entries
    assert rows(book, "segments")[1]["mark"] == 9


def test_a_later_correction_wins(tmp_path: Path) -> None:
    """Corrections are put in in the order they were written."""
    write_story(tmp_path, 1)
    corrected(tmp_path, "1", "mark=9")
    book = corrected(tmp_path, "1", "mark=10")
    assert segments(book)[0].fields["mark"] == 10


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("99", "mark=3", "no record '99'"),
        ("1", "mark", "FIELD=VALUE"),
        ("1", "id=x", "not a field"),
        ("1", "crc=x", "not a field"),
        ("1", "colour=red", "'colour' is not a field"),
        ("1", "polishing_s=-5", "polishing_s"),
        ("1", "outcome=fine", "outcome"),
        ("1", "polishing_s=NaN", "NaN"),
        ("1", "mark=seven", "mark"),
    ],
)
def test_a_correction_that_makes_no_sense_is_refused(
    folder: Path, name: str, change: str, words: str
) -> None:
    """No such record, no such field, a value out of its range: one sentence, and nothing is written."""
    before = (folder / FILE_NAME).read_bytes()
    with pytest.raises(BadInput, match=words):
        corrected(folder, name, change)
    assert (folder / FILE_NAME).read_bytes() == before


def test_a_correction_of_a_correction_is_refused(tmp_path: Path) -> None:
    """The record itself is corrected once more instead."""
    write_story(tmp_path, 1)
    book = corrected(tmp_path, "1", "mark=9")
    with pytest.raises(BadInput, match="itself a correction"):
        corrected(tmp_path, book.entries[-1].id, "mark=3")


def test_a_note_belongs_to_its_segment(tmp_path: Path) -> None:
    """A note is found with the segment it was written to; an empty one and a stranger are refused."""
    write_story(tmp_path, 2)
    writer = LogbookWriter(tmp_path)
    add_note(writer, "slow start", "2", None, AT, 0.0)
    for text, segment, words in (
        ("  ", None, "empty"),
        ("x" * 2001, None, "2001"),
        ("x", "77", "no segment"),
    ):
        with pytest.raises(BadInput, match=words):
            add_note(writer, text, segment, None, AT, 0.0)
    writer.close()
    record = whole_record(read(tmp_path), "2")
    assert [note["text"] for note in record["notes"]] == ["slow start"]


def test_an_inspection_is_due_until_somebody_looks(tmp_path: Path) -> None:
    """After a segment the look is due, whatever else is written; after the look it is not."""
    story = Story(tmp_path)
    story.segment()
    second = story.segment(**STALLED)
    story.keep("note", {"text": "put off"})
    due = inspection_due(read(tmp_path))
    assert due is not None
    assert due.id == second
    story.look(second)
    assert inspection_due(read(tmp_path)) is None
    story.writer.close()


def test_pandas_reads_the_logbook_in_one_line(folder: Path) -> None:
    """`pandas.read_json(path, lines=True)` gives a row a record with usable columns."""
    frame = pd.read_json(folder / FILE_NAME, lines=True)
    ends = frame[frame["kind"] == "segment_end"]
    assert len(ends) == 12
    assert ends["spin_ratio_mean"].mean() == pytest.approx(
        sum(one.fields["spin_ratio_mean"] for one in segments(read(folder))) / 12
    )
    assert pd.to_datetime(frame["at"], utc=True).is_monotonic_increasing


def test_pandas_reads_the_exports(folder: Path, tmp_path: Path) -> None:
    """CSV and JSON hold the same figures as the segments."""
    table = rows(read(folder), "segments")
    write_whole(tmp_path / "a.csv", to_csv(table))
    write_whole(tmp_path / "a.json", to_json(table))
    from_csv, from_json = pd.read_csv(tmp_path / "a.csv"), pd.read_json(tmp_path / "a.json")
    expected = [one["table_turns"] for one in table]
    assert list(from_csv["table_turns"]) == list(from_json["table_turns"]) == expected
    assert from_csv["lap_states_share.steady"].dropna().eq(0.98).all()


@pytest.mark.parametrize(
    "text", ["=HYPERLINK(1)", "+1", "-2+3", "@SUM(1)", "\t=1", "\r=1", "\n=1", "\0=1", "＝1", "－1"]
)
def test_a_text_that_a_spreadsheet_would_run_is_disarmed(text: str) -> None:
    """A formula in a name or note gets an apostrophe before it (CWE-1236; OWASP ASVS 1.2.10, read)."""
    (row,) = list(csv.DictReader(io.StringIO(to_csv([{"note": text, text: "x"}]), newline="")))
    assert row["note"].startswith("'")
    assert any(name.startswith("'") for name in row)


def test_negative_numbers_stay_numbers_in_csv() -> None:
    """Only text is disarmed."""
    assert to_csv([{"a_m": -3.5, "b": None, "c": True, "d": "x"}]).splitlines() == [
        "a_m,b,c,d",
        "-3.5,,true,x",
    ]


@given(st.lists(st.dictionaries(st.sampled_from("abc"), st.text() | st.floats(allow_nan=False)), min_size=1))
def test_csv_gives_back_its_cells(table: list[dict[str, object]]) -> None:
    """Python's own CSV reader (RFC 4180 quoting) finds every cell in its place, whatever the text."""
    got = list(csv.DictReader(io.StringIO(to_csv(table), newline="")))
    kept = [row for row in table if any(name in row for name in "abc")]
    if not kept or len(got) != len(table):
        return  # rows without any cell are blank lines, which the reader passes over
    for row, cells in zip(table, got, strict=True):
        for name, value in row.items():
            assert cells[name].removeprefix("'").replace("\ufffd", "\0") == str(value).removeprefix(
                "'"
            ).replace("\ufffd", "\0")


def test_an_export_is_whole_or_not_at_all(tmp_path: Path) -> None:
    """A path that cannot be written is refused in one sentence and leaves nothing behind."""
    (tmp_path / "old.csv").write_text("old")
    for bad in (tmp_path, tmp_path / "no" / "such" / "a.csv"):
        with pytest.raises(BadInput, match="cannot write"):
            write_whole(bad, "x")
    write_whole(tmp_path / "old.csv", "new")
    assert [path.name for path in tmp_path.iterdir()] == ["old.csv"]
    assert (tmp_path / "old.csv").read_text() == "new"


def test_sql_answers_from_the_tables(folder: Path) -> None:
    """A SELECT over segments and zones gives rows by column."""
    book = read(folder)
    assert ask(book, "select count(*) as n from segments") == [{"n": 12}]
    (row,) = ask(book, "select max(grey) as worst from zones where zone = 'edge'")
    assert row["worst"] == max(one["grey"] for one in rows(book, "zones") if one["zone"] == "edge")
    joined = "select s.mark from segments s join zones z on z.segment = s.id where z.zone = '1'"
    assert len(ask(book, joined)) == 4


def test_sql_of_an_empty_logbook_is_empty() -> None:
    """Columns are there even where no record has them."""
    assert ask(Logbook(), "select outcome, mark from segments") == []


@pytest.mark.parametrize(
    "statement",
    [
        "drop table segments",
        "insert into segments(id) values (1)",
        "attach database '/tmp/benchctl-test-attach.db' as x",
        "pragma database_list",
        "select load_extension('x')",
        "select writefile('/tmp/x', 'y')",
        "create table a(b)",
        "vacuum into '/tmp/benchctl-test-vacuum.db'",
        "select 1; select 2",
        "nonsense",
        "",
    ],
)
def test_sql_can_only_read(folder: Path, statement: str) -> None:
    """Writing, attaching files, extensions and nonsense are refused in one sentence."""
    if statement == "":
        assert ask(read(folder), statement) == []
        return
    with pytest.raises(BadInput, match="SQL refused"):
        ask(read(folder), statement)
    assert not list(Path("/tmp").glob("benchctl-test-*.db"))


def test_a_record_names_all_that_belongs_to_it(folder: Path) -> None:
    """`show` of a segment has its looks; `show` of another record is that record; a stranger is refused."""
    book = read(folder)
    assert whole_record(book, "3")["inspections"][0]["mirror"] == "Bench demo 460"
    look = next(book.of_kind("inspection"))
    assert whole_record(book, look.id)["kind"] == "inspection"
    with pytest.raises(BadInput, match="no record"):
        whole_record(book, "../../etc/passwd")


def test_json_export_is_json(folder: Path) -> None:
    """The list parses, and is ASCII."""
    text = to_json(rows(read(folder), "records"))
    assert text.isascii()
    assert len(json.loads(text)) == len(read(folder).entries)
    assert json.loads(to_json([])) == []


def test_a_forged_line_costs_its_own_fields_only(tmp_path: Path) -> None:
    """Among segments read together, one whose text is no JSON under a right checksum shows without fields."""
    writer = LogbookWriter(tmp_path, token=tokens())
    for number in range(5):
        writer.append("segment_end", {"mark": number, "outcome": "completed"}, at=AT, mono_s=1.0)
    writer.close()
    path = tmp_path / FILE_NAME
    kept, prev = [], FIRST_PREV
    for number, line in enumerate(path.read_bytes().splitlines()):
        body = line[: line.index(b',"prev":"')] + f',"prev":"{prev}"'.encode()
        if number == 2:
            body = body.replace(b'"mark":2', b'"mark":}{')
        prev = f"{zlib.crc32(body):08x}"
        kept.append(body + f',"crc":"{prev}"}}\n'.encode())
    path.write_bytes(b"".join(kept))
    found = segments(read(tmp_path, quick=True))
    assert [one.fields.get("mark") for one in found] == [0, 1, None, 3, 4]
    assert read(tmp_path, quick=True).sound
    assert [one.line for one in read(tmp_path).damaged] == [3]
