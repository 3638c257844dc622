"""`benchctl contact`: JSON in, JSON out, one sentence for what cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchctl.cli import main
from tests.physics.cases import WORKED, case


def test_a_case_gives_one_object_and_a_list_a_list(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One JSON value on standard output, nothing else, with the keys of the worked cases."""
    one, many = tmp_path / "one.json", tmp_path / "many.json"
    one.write_text(json.dumps(WORKED["cases"][3]["input"]))
    many.write_text(json.dumps([worked["input"] for worked in WORKED["cases"][:2]]))
    assert main(["contact", str(one), "--json"]) == 0
    out = capsys.readouterr().out
    assert out.count("\n") == 1
    assert WORKED["cases"][3]["output"].keys() <= json.loads(out).keys()
    assert main(["contact", str(many), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 2


def test_a_person_reads_words_and_units(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --json: a table with units, and a note where the face lifts."""
    file = tmp_path / "case.json"
    file.write_text(json.dumps(case(post_offset_m=0.17)))
    assert main(["contact", str(file)]) == 0
    out = capsys.readouterr().out
    assert "spin ratio" in out
    assert "N m" in out
    assert "lifts" in out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (json.dumps(case(mirror_radius_m=float("nan"))), "mirror_radius_m"),
        ("[1]", r"case [0]"),
        ("{", "not valid JSON"),
        (json.dumps(case(lap_radius_m=-1.0)), "lap_radius_m"),
        (json.dumps([case(), case(post_offset_m=0.9)]), "case [1], post_offset_m"),
    ],
)
def test_refused_input_exits_2_and_names_the_place(
    text: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 2, one line on standard error, nothing on standard output."""
    file = tmp_path / "case.json"
    file.write_text(text)
    assert main(["contact", str(file), "--json"]) == 2
    shown = capsys.readouterr()
    assert words in shown.err
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_a_missing_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path that is not there exits 2 and shows the path."""
    assert main(["contact", str(tmp_path / "none.json")]) == 2
    assert "none.json" in capsys.readouterr().err
