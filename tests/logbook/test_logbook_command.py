"""`benchctl logbook` as a person and a script use it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import benchctl.models
from benchctl.cli import main
from benchctl.logbook.reader import FILE_NAME, read
from benchctl.logbook.writer import LogbookWriter
from tests.logbook.books import AT, Story, write_story


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_story(tmp_path / "book", 9)
    return tmp_path / "book"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Exit status, standard output, standard error."""
    status = main(["logbook", *words])
    said = capsys.readouterr()
    return status, said.out, said.err


def test_list_gives_a_record_a_line_oldest_first(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`list --json`: a segment record a line, and nothing else on standard output."""
    status, out, err = run(capsys, "list", "--json", "--logbook", str(folder))
    records = [json.loads(line) for line in out.splitlines()]
    assert (status, err, len(records)) == (0, "", 9)
    assert [one["segment_number"] for one in records] == list(range(1, 10))
    assert [one["started_at"] for one in records] == sorted(one["started_at"] for one in records)
    keys = ("event", "outcome", "stop_reason", "stop_kind", "polishing_s", "table_turns", "lap_turns")
    keys += ("useful_turns", "spin_ratio_mean", "wet_down", "standing_s", "mark", "seed")
    assert all(key in one for one in records for key in keys)
    assert {one["event"] for one in records} == {"segment_record"}


def test_the_folder_may_stand_before_or_after_the_command(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`logbook --logbook F list` and `logbook list --logbook F` are the same."""
    assert run(capsys, "--logbook", str(folder), "list") == run(capsys, "list", "--logbook", str(folder))


def test_a_list_fits_a_terminal_of_80(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No line is wider than 80; rehearsals are marked; the stall is named."""
    _, out, _ = run(capsys, "list", "--logbook", str(folder))
    assert max(map(len, out.splitlines())) <= 80
    assert re.search(r"^8\* .*lap stalled$", out, re.MULTILINE)
    assert out.endswith("* on a SIMULATED bench\n")


def test_without_a_folder_the_home_of_benchctl_is_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """BENCHCTL_HOME holds the logbook of work and the one of rehearsals; none yet is said in one sentence."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path))
    status, _, err = run(capsys, "list")
    assert status == 2
    assert "there is no logbook in" in err
    write_story(tmp_path / "rehearsal", 1)
    assert run(capsys, "list", "--rehearsal")[0] == 0


def test_a_mirrors_file_stands_for_its_logbook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`--logbook pine.toml` is the folder that the file names, rehearsals apart; without it the mirror that
    the bench screen opens is meant."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path))
    demo = Path(benchctl.models.__file__ or "").parent / "bench_demo_460.toml"
    job = tmp_path / "pine.toml"
    job.write_text('logbook = "pine-logbook"\n' + demo.read_text(encoding="utf-8"), encoding="utf-8")
    write_story(tmp_path / "pine-logbook", 2)
    write_story(tmp_path / "pine-logbook" / "rehearsal", 1)
    for words, count in ((("--logbook", str(job)), 2), (("--logbook", str(job), "--rehearsal"), 1)):
        status, out, _ = run(capsys, "list", "--json", *words)
        assert (status, len(out.splitlines())) == (0, count)
    assert run(capsys, "note", "a remark", "--logbook", str(job))[0] == 0
    assert run(capsys, "list")[0] == 2
    (tmp_path / "bench.toml").write_text(f'port = "/dev/ttyACM0"\njob = "{job}"\n')
    assert len(run(capsys, "list", "--json")[1].splitlines()) == 2
    status, _, err = run(capsys, "list", "--logbook", str(tmp_path / "oak.toml"))
    assert (status, "cannot read job file" in err) == (2, True)


def test_show_takes_a_number_or_an_id(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A segment's record with its looks, in words with units or as JSON; a stranger is exit 2."""
    _, out, _ = run(capsys, "show", "3", "--json", "--logbook", str(folder))
    record = json.loads(out)
    status, words, _ = run(capsys, "show", record["id"], "--logbook", str(folder))
    assert (status, "post offset: 128 mm" in words, "inspections 1:" in words) == (0, True, True)
    _, words, _ = run(capsys, "show", record["id"], "--logbook", str(folder), "--units", "inch")
    assert "post offset: 5.03937 in" in words
    status, out, err = run(capsys, "show", "77", "--logbook", str(folder))
    assert (status, out) == (2, "")
    assert "no record '77'" in err


def test_verify_says_what_is_damaged_and_where_and_changes_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 0 and counts for a sound logbook; exit 3, the line and the reason for a damaged one."""
    status, out, _ = run(capsys, "verify", "--logbook", str(folder))
    assert (status, out.splitlines()[-1]) == (0, "Sound.")
    path = folder / FILE_NAME
    lines = path.read_bytes().splitlines(keepends=True)
    lines[4] = lines[4].replace(b'"mark"', b'"mork"')
    path.write_bytes(b"".join(lines)[:-9])
    before = path.read_bytes()
    names = sorted(one.name for one in folder.iterdir())
    status, out, _ = run(capsys, "verify", "--logbook", str(folder))
    assert status == 3
    assert re.search(r"^line 5: changed since it was written", out, re.MULTILINE)
    assert re.search(rf"^line {len(lines)}: cut short", out, re.MULTILINE)
    status, out, _ = run(capsys, "verify", "--json", "--logbook", str(folder))
    assert [one["line"] for one in json.loads(out)["damaged"]] == [5, len(lines)]
    assert path.read_bytes() == before
    assert sorted(one.name for one in folder.iterdir()) == names


def test_a_damaged_logbook_is_still_listed_with_a_word_of_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is whole is listed; standard error says how much was set aside."""
    path = folder / FILE_NAME
    path.write_bytes(path.read_bytes()[:-9])
    status, _, err = run(capsys, "list", "--json", "--logbook", str(folder))
    assert (status, "1 damaged places were set aside" in err) == (0, True)


@pytest.mark.parametrize("what", ["segments", "zones", "blemishes", "records"])
@pytest.mark.parametrize("form", ["--csv", "--json"])
def test_export_writes_a_file_or_standard_output(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str, form: str
) -> None:
    """The same text goes to a file and to '-'."""
    target = tmp_path / "out"
    assert run(capsys, "export", form, str(target), "--what", what, "--logbook", str(folder))[:2] == (0, "")
    _, out, _ = run(capsys, "export", form, "-", "--what", what, "--logbook", str(folder))
    assert out.encode() == target.read_bytes()
    assert len(out.splitlines()) > 1


def test_export_to_nowhere_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path that cannot be written: exit 2, one sentence."""
    status, _, err = run(capsys, "export", "--csv", "/no/such/place/a.csv", "--logbook", str(folder))
    assert (status, len(err.splitlines())) == (2, 1)


def test_notes_and_corrections_are_added(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each prints the id of what it added; the segment then shows both."""
    where = ("--logbook", str(folder))
    status, note, _ = run(capsys, "note", "lap sounded dry", "--segment", "4", *where)
    assert status == 0
    status, fix, _ = run(capsys, "correct", "4", "mark=12", "--why", "misread", *where)
    assert status == 0
    _, out, _ = run(capsys, "show", "4", "--json", *where)
    record = json.loads(out)
    assert (record["mark"], record["corrected_by"]) == (12, [fix.strip()])
    assert record["notes"][0]["id"] == note.strip()
    assert read(folder).sound


@pytest.mark.parametrize("words", [("note", " "), ("correct", "4", "mark=-3x", "--why", "x"), ("note", "x")])
def test_an_addition_that_cannot_be_kept_is_refused_in_one_sentence(
    folder: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    """Empty text, a wrong value, a logbook in use by the bench: exit 2, nothing written."""
    before = (folder / FILE_NAME).read_bytes()
    holder = LogbookWriter(folder) if words == ("note", "x") else None
    status, out, err = run(capsys, *words, "--logbook", str(folder))
    assert (status, out, len(err.splitlines())) == (2, "", 1)
    assert (folder / FILE_NAME).read_bytes() == before
    if holder:
        holder.close()


@pytest.mark.parametrize("question", [str(i) for i in range(1, 11)])
def test_each_of_the_ten_questions_is_answered(
    folder: Path, capsys: pytest.CaptureFixture[str], question: str
) -> None:
    """By number, in sentences and as one JSON value."""
    status, out, err = run(capsys, "ask", question, "--logbook", str(folder))
    assert (status, err) == (0, "")
    assert out.strip()
    _, out, _ = run(capsys, "ask", question, "--json", "--logbook", str(folder))
    assert "".join(json.loads(out)["answer"])


METRIC_QUANTITY = re.compile(r"\d (?:mm|kg|kPa|N|N m|degC|°C)\b")


@pytest.mark.parametrize("question", ["rate", "post", "mirrors"])
def test_answers_are_in_the_units_that_the_person_chose(
    tmp_path: Path, question: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """In inches no metric quantity is left but the name of the last 5 mm; JSON stays metric."""
    write_story(tmp_path, 30, synced=False)
    where = ("ask", question, "--logbook", str(tmp_path), "--units")
    metric, inch = (run(capsys, *where, units)[1].replace("last 5 mm", "") for units in ("metric", "inch"))
    assert METRIC_QUANTITY.search(metric)
    assert not METRIC_QUANTITY.search(inch)
    assert METRIC_QUANTITY.search(run(capsys, *where, "inch", "--json")[1].replace("last 5 mm", ""))


def test_the_marks_question_tells_the_pass_and_what_is_left(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nine of thirteen marks used: four to come; the share left agrees with the planner's own sum."""
    from benchctl.planner.mark_ledger import MarkLedger
    from benchctl.planner.marks import print_through

    _, out, _ = run(capsys, "ask", "marks", "--json", "--logbook", str(folder))
    (row,) = json.loads(out)["rows"]
    assert (len(row["used"]), len(row["unused"]), row["number"]) == (9, 4, 1)
    ledger = MarkLedger(13)
    for entry in read(folder).entries:
        ledger.take(entry.kind, entry.fields)
    assert row["print_through_2"] == pytest.approx(print_through(ledger.placed, 13, 2))


def test_the_marks_question_needs_to_know_how_many(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A logbook without a draw is refused with the option to add; a silly number is refused too."""
    writer = LogbookWriter(tmp_path)
    writer.append("note", {"text": "x"}, at=AT, mono_s=0.0)
    writer.close()
    for words, reason in ((("ask", "marks"), "add --marks"), (("ask", "marks", "--marks", "0"), "1 to 60")):
        status, _, err = run(capsys, *words, "--logbook", str(tmp_path))
        assert (status, reason in err) == (2, True)


def test_a_question_nobody_knows_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sentence lists the questions."""
    for question in ("11", "0", "colour\x1b[2J"):
        status, _, err = run(capsys, "ask", question, "--logbook", str(folder))
        assert (status, "ask one of work, lagging" in err, "\x1b" in err) == (2, True, False)


def test_sql_prints_columns(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A table for people, a line a row for programs, exit 2 for what is no SELECT."""
    where = ("--logbook", str(folder))
    assert run(capsys, "sql", "select count(*) as n from segments", *where)[1] == "n\n9\n"
    assert run(capsys, "sql", "select count(*) as n from segments", "--json", *where)[1] == '{"n": 9}\n'
    assert run(capsys, "sql", "delete from segments", *where)[0] == 2


def test_the_report_is_written(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One file; the dial is there because the draws say how many marks there are."""
    status, out, _ = run(capsys, "report", "--html", str(tmp_path / "r.html"), "--logbook", str(folder))
    assert (status, out) == (0, "")
    assert "Marks used in this pass of 13" in (tmp_path / "r.html").read_text(encoding="utf-8")


HOSTILE = "\x1b]0;owned\x07\x1b[2J\x9b31m\u202e[@click=app.quit]x[/]"


def test_no_outside_text_reaches_a_terminal_as_an_escape(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names, notes and reasons full of escapes are shown with '?' in their place, by every command."""
    story = Story(tmp_path)
    story.segment(mirror=HOSTILE, lap=HOSTILE, note=HOSTILE, stop_reason=HOSTILE[:40], outcome="stopped")
    story.keep("note", {"text": HOSTILE, "lap_care": HOSTILE, HOSTILE: HOSTILE})
    story.writer.close()
    with (tmp_path / FILE_NAME).open("ab") as file:
        file.write(HOSTILE.encode() + b"\n")
    commands = [["list"], ["show", "1"], ["verify"], ["sql", "select * from segments"], ["list", "--json"]]
    commands += [["ask", str(i)] for i in range(1, 11)] + [
        ["report", "--html", str(tmp_path / "r.html"), "--mirror", HOSTILE]
    ]
    for words in commands:
        _, out, err = run(capsys, *words, "--logbook", str(tmp_path))
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", out + err), words


def test_a_name_is_never_a_path(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A mirror called ../../x writes nothing outside the logbook's folder."""
    book = tmp_path / "deep" / "book"
    story = Story(book)
    story.segment(mirror="../../x", lap="/etc/passwd")
    story.writer.close()
    run(capsys, "list", "--logbook", str(book))
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["book", "deep", FILE_NAME, "logbook.lock"]


def test_listing_needs_no_heavy_import(folder: Path) -> None:
    """`logbook list` imports neither textual nor numpy, pydantic, pint or jinja2."""
    code = (
        "import sys; from benchctl.cli import main; main(['logbook','list','--logbook',sys.argv[1]]);"
        "print([m for m in ('textual','numpy','pydantic','pint','jinja2') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines()[-1] == "[]"
