"""Weights as pieces, and several laps in one file."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.errors import BadInput
from benchctl.models.job import Job, demo_job, parse_job, read_job
from benchctl.models.segment_record import SegmentRecord
from benchctl.models.weights import Piece, weights_words

FILE = """\
schema = 1
logbook = "book"
[mirror]
name = "Eighteen"
diameter = "18.1 in"
focal_ratio = 5
glass = "fused silica"
edge_thickness = "2 in"
last_abrasive = "5 um"
[[laps]]
name = "big"
diameter = "12 in"
mass = "10 lb"
[[laps]]
name = "small"
diameter = "200 mm"
mass = "3 kg"
[setup]
lap = "small"
post_offset = "100 mm"
weights = ["2 kg", { mass = "5 lb", captured = false, radius = "60 mm" }]
weights_radius = "40 mm"
[segment]
work_speed = "20 rpm"
length = "12 min"
[marks]
count = 11
draw = "plain"
"""


def job(*changes: tuple[str, str]) -> Job:
    """The file above with changes."""
    text = FILE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_job(text.encode(), "job.toml")


def test_each_piece_has_its_own_place() -> None:
    """What a piece does not say itself, the file says for all; pounds and inches are read as well."""
    one, other = job().setup.pieces
    assert one == Piece(mass_kg=2.0, captured=True, radius_m=0.04)
    assert (other.captured, other.radius_m) == (False, 0.06)
    assert other.mass_kg == pytest.approx(5 * 0.45359237)


def test_one_loose_piece_makes_the_load_loose() -> None:
    """The board must be gentle to the worst of them: the outermost loose piece counts."""
    setup = job().setup
    assert (setup.weights_captured, setup.loose_radius_m) == (False, 0.06)
    held = job(("captured = false", "captured = true")).setup
    assert (held.weights_captured, held.loose_radius_m) == (True, 0.06)


def test_files_from_before_read_as_they_did() -> None:
    """The demo file names its pieces as texts, held, 60 mm out; no piece at all is allowed."""
    assert [one.mass_kg for one in demo_job().setup.pieces] == [2.5, 2.5, 2.5, 2.5, 2.0, 2.0]
    assert {(one.captured, one.radius_m) for one in demo_job().setup.pieces} == {(True, 0.06)}
    none = job(('weights = ["2 kg", { mass = "5 lb", captured = false, radius = "60 mm" }]', "")).setup
    assert (none.pieces, none.weight_kg, none.weights_captured) == ((), 0.0, True)


def test_pieces_in_words() -> None:
    """Equal ones counted, loose ones called so, in the person's units."""
    assert weights_words(demo_job().setup.pieces) == "4 x 2.5 + 2 x 2 = 14 kg"
    assert weights_words(job().setup.pieces, "inch") == "4.41 + 5 LOOSE = 9.41 lb"
    assert weights_words(()) == "none"


def test_a_record_keeps_the_pieces_and_old_ones_read_without() -> None:
    """Weights in a record come back the same; a record of before has none."""
    old = {
        "outcome": "completed", "stop_kind": "planned", "polishing_s": 1.0, "planned_s": 1.0,
        "table_turns": 1.0, "lap_turns": 1.0, "useful_turns": 1.0, "wet_down": "answered",
        "work_rpm": 26.0, "load_n": 1.0, "post_offset_m": 0.1,
    }  # fmt: skip
    assert SegmentRecord.model_validate(old).weights == ()
    new = SegmentRecord.model_validate(old | {"weights": job().setup.pieces})
    assert SegmentRecord.model_validate(new.model_dump(mode="json")) == new


def test_the_lap_in_use_is_the_one_that_is_named() -> None:
    """Several laps, one of them on the glass; another length of segment leaves it so."""
    assert [one.name for one in job().laps] == ["big", "small"]
    assert job().lap.name == job().with_minutes(5.0).lap.name == "small"
    assert job(('lap = "small"', 'lap = "big"')).lap.diameter_m == pytest.approx(0.3048)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('lap = "small"\n', "", "setup.lap is missing; say which lap is in use: 'big', 'small'"),
        ('lap = "small"', 'lap = "tiny"', "setup.lap is 'tiny'; say which lap is in use: 'big', 'small'"),
        ('lap = "small"', 'lap = "a\\u001b[2J"', "setup.lap is 'a"),
        ('name = "big"', 'name = "small"', "two laps have the name 'small'; give each its own"),
        ('diameter = "12 in"', 'diameter = "12 kg"', "laps.0.diameter: '12 kg' is not a length"),
        ('mass = "5 lb"', 'mas = "5 lb"', "setup.weights.1.mass: is missing"),
        ('mass = "5 lb"', 'mass = "5"', "setup.weights.1.mass: '5' needs a unit"),
        ('["2 kg"', '["2 kgs"', "setup.weights.0.mass: '2 kgs' is not a mass"),
        ("captured = false", 'captured = "no way"', "setup.weights.1.captured"),
        ("count = 11", "count = 11\nstart = 12", "start (12) is not on the rim; the marks are 1 to 11"),
        ('draw = "plain"', 'draw = "lots"', "marks.draw: 'lots' is not known"),
        ("[[laps]]", '[lap]\ndiameter = "1 m"\nmass = "1 kg"\n[[laps]]', "either [lap] or [[laps]]"),
    ],
)
def test_a_mistake_gets_one_sentence(old: str, new: str, sentence: str) -> None:
    """What, where, what to do; no control character gets through."""
    with pytest.raises(BadInput) as refusal:
        job((old, new))
    assert str(refusal.value).startswith("job.toml: ")
    assert sentence in str(refusal.value)
    assert str(refusal.value).isprintable()


def test_a_single_lap_may_be_named_only_as_it_is() -> None:
    """A lap that the file does not have cannot be in use."""
    text = FILE.replace('[[laps]]\nname = "small"\ndiameter = "200 mm"\nmass = "3 kg"\n', "").replace(
        "[[laps]]", "[lap]"
    )
    with pytest.raises(BadInput, match=r"setup\.lap is 'small', and the one lap here is 'big'"):
        parse_job(text.encode(), "job.toml")


def test_the_example_on_the_page_is_a_file() -> None:
    """What the handbook shows can be read: two laps, a loose weight in pounds."""
    page = (Path(__file__).parents[2] / "docs" / "the-job-file.md").read_text(encoding="utf-8")
    example = parse_job(page.split("```toml")[1].split("```")[0].encode(), "the page")
    assert [one.name for one in example.laps] == ["310 plaster", "200 small"]
    assert example.lap.name == "310 plaster"
    assert not example.setup.weights_captured


def test_the_logbook_lies_beside_the_file(tmp_path: Path) -> None:
    """A relative folder is taken from where the file is, not from where the program was started."""
    path = tmp_path / "eighteen.toml"
    path.write_text(FILE)
    assert read_job(path).logbook == str(tmp_path / "book")
    path.write_text(FILE.replace('logbook = "book"\n', ""))
    assert read_job(path).logbook is None
