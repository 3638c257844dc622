"""Cold presses, lap care and marks in the logbook: a kept sample is read for ever, open ones are closed."""

from __future__ import annotations

from pathlib import Path

from benchctl.assembly.pressed import build_press
from benchctl.clock import SteppedClock
from benchctl.logbook.presses import close_open_presses, open_presses, presses
from benchctl.logbook.reader import read
from benchctl.logbook.segments import segments
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.job import demo_job
from benchctl.models.press_record import PressRecord
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.marks import draw_of, replays
from benchctl.press.case import press_case
from benchctl.press.states import On, State
from benchctl.session.preparation import Preparation
from tests.logbook.books import AT

SAMPLE = Path(__file__).parent / "samples" / "schema-1-press"


def test_the_kept_sample_is_read_for_ever() -> None:
    """Press, weights as pieces, an override, lap care and the person's word on a mark, as they were kept."""
    book = read(SAMPLE)
    assert book.sound
    (press,) = presses(book)
    known = {name: value for name, value in press.fields.items() if name in PressRecord.model_fields}
    record = PressRecord.model_validate(known)
    assert (record.load_kg, record.first_place_s, record.second_place_s) == (9.0, 675.0, 675.0)
    (segment,) = segments(book)
    fields = {name: value for name, value in segment.fields.items() if name in SegmentRecord.model_fields}
    pieces = SegmentRecord.model_validate(fields).weights
    assert [one.mass_kg for one in pieces] == [2.5, 2.5, 2.5, 2.5, 2.0, 2.0]
    assert segment.fields["mark_used"] is False
    draws = [draw_of(entry.fields) for entry in book.of_kind("mark_draw")]
    assert all(draw is not None and replays(draw) for draw in draws)
    care = [entry.fields["lap_care"] for entry in book.of_kind("note") if "lap_care" in entry.fields]
    assert care == ["trimmed", "remade"]


def test_the_sample_gives_the_marks_it_gave() -> None:
    """The mark that its person gave back is offered again."""
    marks = Preparation(read(SAMPLE), demo_job(), lambda: 1)
    mark, drawn = marks.next_mark()
    assert drawn is None
    assert mark == segments(read(SAMPLE))[0].fields["mark"]
    assert mark in marks.view().unused


def pressing_until(folder: Path, now_s: float, *acts: On) -> None:
    """A press that is cut off after `now_s` seconds, its acts done just before."""
    bench = build_press(
        demo_job(),
        press_case(demo_job()),
        folder,
        room_c=20.0,
        stepped=True,
        system="metric",
        listen=lambda _: None,
    )
    assert isinstance(bench.clock, SteppedClock)
    while bench.clock.now_s < now_s:
        bench.clock.now_s += 1.0
        bench.step()
    for act in acts:
        bench.pressing.act(act, now_s)
        bench.clock.now_s += 6.0
        bench.step()
    bench.close()


def test_a_press_that_was_cut_off_is_closed_once(tmp_path: Path) -> None:
    """Its last sign of life is kept: how long, shifted or not; a second start finds nothing open."""
    pressing_until(tmp_path, 700.0, On.SHIFTED)
    (open_one,) = open_presses(tmp_path, read(tmp_path))
    assert 700.0 <= open_one.ran_s <= 706.0
    assert "had run 12 of 22 min and shifted" in open_one.sentence()
    for expected in (1, 0):
        writer = LogbookWriter(tmp_path)
        assert len(close_open_presses(writer, at=AT, mono_s=0.0)) == expected
        writer.close()
    (closed,) = presses(read(tmp_path))
    assert (closed.fields["outcome"], closed.fields["shifted"]) == ("interrupted", True)
    known = {name: value for name, value in closed.fields.items() if name in PressRecord.model_fields}
    assert PressRecord.model_validate(known).outcome == "interrupted"
    assert read(tmp_path).sound


def test_a_program_told_to_end_never_says_that_the_lap_is_off(tmp_path: Path) -> None:
    """Before its time it is ended early; after it, nobody took the lap off."""
    for after_s, outcome in ((100.0, "ended_early"), (1400.0, "not_lifted")):
        bench = build_press(
            demo_job(),
            press_case(demo_job()),
            tmp_path / outcome,
            room_c=20.0,
            stepped=True,
            system="metric",
            listen=lambda _: None,
        )
        bench.pressing.step(660.0 if after_s > 660.0 else after_s)
        bench.pressing.step(after_s)
        assert (bench.pressing.engine.state is State.OFF) == (outcome == "not_lifted")
        bench.pressing.abandon(after_s)
        assert bench.pressing.record is not None
        assert bench.pressing.record.outcome == outcome
        bench.close()
