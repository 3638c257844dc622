"""A look at the glass typed as words: in a pipe, on the command line, in the lines of the plain screen."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from benchctl.cli import main
from benchctl.errors import BadInput
from benchctl.logbook.look_words import look_of
from benchctl.logbook.reader import read
from benchctl.logbook.segments import inspection_due, inspections, segments
from benchctl.models.inspection import Inspection
from tests.logbook.books import MIRROR, Story, write_story

WHOLE = """grey 9 8 7 7.5 - 9
pits m 38,41 12,9,14 8 m -
laser 1 1 2 2 1 0   lamp 20 20 30 30 20 10
glass 20.5C  room 68degF  humidity 48%  rim 80%
blemish sleek 130 95mm 12mm  blemish dried-compound 3 20cm
note faint, near the hole"""


def test_a_whole_look_in_words() -> None:
    """Six values a score, quantities with their units, two blemishes, a remark."""
    look = look_of(WHOLE.split(), segment="s1", mirror=MIRROR)
    zones = [zone for _, zone in look.looks()]
    assert [zone.grey for zone in zones] == [9.0, 8.0, 7.0, 7.5, None, 9.0]
    many = ("too many",)
    assert [zone.pits for zone in zones] == [many, (38, 41), (12, 9, 14), (8,), many, None]
    assert [zone.laser_spot for zone in zones] == [1, 1, 2, 2, 1, 0]
    assert [zone.steepest_angle_deg for zone in zones] == [20.0, 20.0, 30.0, 30.0, 20.0, 10.0]
    assert look.room_temperature_c == pytest.approx(20.0)
    assert (look.glass_temperature_c, look.room_humidity, look.rim_looked_at) == (20.5, 0.48, 0.8)
    sleek, compound = look.blemishes
    assert (sleek.kind, sleek.angle_deg, compound.kind, compound.length_m) == (
        "sleek",
        130.0,
        "dried compound",
        None,
    )
    assert [sleek.radius_m, sleek.length_m, compound.radius_m] == pytest.approx([0.095, 0.012, 0.2])
    assert (look.note, look.segment, look.mirror) == ("faint, near the hole", "s1", MIRROR)


def test_six_numbers_alone_are_grey() -> None:
    """The first thing that is looked at needs no name."""
    six = ["9", "8", "7", "7", "8", "9"]
    assert look_of(six) == look_of(["grey", *six])


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("", "no look was given: grey, pits, laser and lamp take six values each"),
        ("9 8", "look: grey has fewer than six values; add zone 3 and on, - for none"),
        ("grey 9 8 x 7 6 5", "look: 'x' is no grey of zone 3; six values are wanted, - for none"),
        ("9 8 7 11 6 5", "zone 4.grey: 11 must be at most 10; change it and try again"),
        (
            "pits 60 - - - - -",
            "zone 1.pits.0: 60 pits in a field; count 0 to 50, or write 'too many' for more",
        ),
        ("pits 1,2,3,4 - - - - -", "zone 1.pits: 4 given; at most 3 are taken; change it and try again"),
        ("laser 1.5 - - - - -", "look: '1.5' is no laser of zone 1; six values are wanted, - for none"),
        ("blemish crack 1 2mm", "look: 'crack' is no kind of blemish; use one of sleek, scratch, pit"),
        ("blemish sleek x 9mm", "look: 'x' is no angle; give degrees clockwise from mark 1, such as 130"),
        ("blemish sleek 3 95", "'95' needs a unit that fits a length, such as '460 mm'"),
        ("blemish sleek 3", "look: blemish sleek wants a value after it"),
        ("glass 20", "'20' needs a unit that fits a temperature, such as '20 degC'"),
        ("wet 3", "look: 'wet' is not known here"),
        ("grey - - - - - -", "nothing was looked at; score at least one zone, or put the look off"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(words: str, sentence: str) -> None:
    """What, where, the limit, what to do."""
    with pytest.raises(BadInput) as refused:
        look_of(words.split())
    assert str(refused.value).startswith(sentence)
    assert "\n" not in str(refused.value)


def test_the_command_takes_words_or_a_pipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both keep the same look, with the last segment and its mirror."""
    write_story(tmp_path, 4)
    where = ["--logbook", str(tmp_path)]
    assert main(["logbook", "look", *WHOLE.split(), *where]) == 0
    monkeypatch.setattr(sys, "stdin", io.StringIO(WHOLE))
    assert main(["logbook", "look", *where]) == 0
    book = read(tmp_path)
    one, two = (look.fields for look in inspections(book)[-2:])
    assert one == two
    assert (one["segment"], one["mirror"]) == (segments(book)[-1].id, MIRROR)
    Inspection.model_validate(one, context={"si": True})


def test_a_refused_look_leaves_the_logbook_as_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, one line on standard error, not a byte written."""
    write_story(tmp_path, 2)
    before = (tmp_path / "logbook.jsonl").read_bytes()
    for words in (["9", "8"], ["--segment", "99", "9", "8", "7", "7", "8", "9"]):
        assert main(["logbook", "look", *words, "--logbook", str(tmp_path)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2
    assert (tmp_path / "logbook.jsonl").read_bytes() == before


def test_a_look_is_due_until_somebody_has_looked(tmp_path: Path) -> None:
    """Due after a segment that turned, not after one that was refused, and no more once a look is kept."""
    story = Story(tmp_path)
    first = story.segment()
    story.segment(outcome="refused", table_turns=0.0, lap_turns=0.0, useful_turns=0.0)
    due = inspection_due(read(tmp_path))
    assert due is not None
    assert due.id == first
    story.look(first)
    assert inspection_due(read(tmp_path)) is None
    story.writer.close()
