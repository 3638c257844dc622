"""Press and mark at the bench: what they do, what they refuse, and that nothing turns during a press."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from benchctl.logbook.presses import presses
from benchctl.logbook.reader import Logbook, read
from benchctl.models.job import demo_job
from benchctl.press.states import State as Press
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.preparation import Preparation
from tests.session.driven import Driven


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Driven]:
    """A bench that draws marks, with a segment of two minutes."""
    bench = Driven(tmp_path, minutes=2.0, draw_marks=True)
    yield bench
    bench.parts.close()


def book(bench: Driven) -> Logbook:
    """What is in its logbook now."""
    return read(bench.parts.keeper.folder)


def test_nothing_is_armed_while_a_press_is_under_way(bench: Driven) -> None:
    """Arming is refused in a sentence until the press has ended; afterwards it works as ever."""
    bench.go(2.0)
    bench.do(Act.PRESS, "start")
    assert bench.shot.press is not None
    assert Act.ARM not in bench.shot.allowed
    bench.do(Act.ARM)
    assert "nothing may turn" in bench.shot.refusal
    bench.go(5.0)
    assert (bench.state, bench.plant.truth().drive_enabled) == (State.READY, False)
    bench.do(Act.PRESS, "end")
    assert bench.shot.press is None
    bench.start()
    assert bench.runner.engine.turning


def test_no_press_begins_while_the_table_turns(bench: Driven) -> None:
    """A press is refused from arming to the lap's lifting."""
    bench.start()
    assert Act.PRESS not in bench.shot.allowed
    bench.do(Act.PRESS, "start")
    assert bench.shot.press is None
    assert "while the table rests" in bench.shot.refusal


def test_a_press_calls_and_is_answered_by_its_words_or_the_pedal(bench: Driven) -> None:
    """Water at 6 min, shift at 11, off at the end; the record is in the logbook."""
    bench.do(Act.PRESS, "start")
    bench.until(lambda: bench.shot.call is not None, 370.0)
    assert bench.shot.call is not None
    assert bench.shot.call.title == "WETTING IS DUE"
    bench.do(Act.PRESS, "answer")
    assert bench.shot.call is None
    bench.until(lambda: bench.shot.press is not None and bench.shot.press.state is Press.SHIFT, 310.0)
    assert bench.shot.call is not None
    bench.do(Act.SILENCE)
    assert bench.shot.call is not None
    assert bench.shot.call.silenced
    bench.do(Act.PRESS, "shifted")
    bench.until(lambda: bench.shot.press is not None and bench.shot.press.state is Press.OFF, 670.0)
    assert bench.shot.call is not None
    assert (bench.shot.call.pattern, bench.shot.call.silenced) == ("end", False)
    bench.do(Act.PRESS, "lifted")
    (kept,) = presses(book(bench))
    assert (kept.fields["outcome"], kept.fields["shifted"], kept.fields["simulated"]) == (
        "completed",
        True,
        True,
    )
    assert bench.shot.pressed is not None


def test_sleep_counts_as_pressed(bench: Driven) -> None:
    """The pitch flows on while the computer sleeps: an hour of sleep ends the first half."""
    bench.do(Act.PRESS, "start")
    bench.runner.readying.slept(3600.0)
    bench.go(1.0)
    assert bench.shot.press is not None
    assert bench.shot.press.state is Press.SHIFT


def test_words_that_mean_nothing_to_a_press_are_refused(bench: Driven) -> None:
    """A sentence, and the press goes on."""
    bench.do(Act.PRESS, "lifted")
    assert "no press is under way" in bench.shot.refusal
    bench.do(Act.PRESS, "start")
    for word, sentence in (
        ("lifted", "means nothing now"),
        ("start", "no word for a press"),
        ("temperature 21", "needs a unit"),
        ("temperature 99 degC", "outside -10 to 50"),
    ):
        bench.do(Act.PRESS, word)
        assert sentence in bench.shot.refusal
    assert bench.shot.press is not None


def test_the_rooms_temperature_is_kept_with_the_press(bench: Driven) -> None:
    """What is told is taken without a word; a drift of more than the pitch allows is shown while it lasts."""
    bench.do(Act.PRESS, "start")
    first_c = bench.runner.facts.job.room.temperature_c
    bench.do(Act.PRESS, f"temperature {first_c + 1} degC")
    assert bench.shot.refusal == ""
    assert bench.shot.press is not None
    assert (bench.shot.press.temperature_c, bench.shot.press.drift) == (first_c + 1, "")
    bench.do(Act.PRESS, f"temperature {first_c + 4} degC")
    assert bench.shot.refusal == ""
    assert bench.shot.press is not None
    assert "4.0 K warmer than at the start" in bench.shot.press.drift


def test_another_mark_is_taken_with_a_reason(bench: Driven) -> None:
    """The mark, its reason, seed and candidates are kept, and the segment's record has the mark taken."""
    bench.go(1.0)
    drawn = bench.shot.mark
    assert drawn is not None
    other = drawn % 13 + 1
    for text, sentence in (
        (f"{other}", "needs a reason"),
        ("chip", "begins with no mark"),
        ("14 chip", "the marks are 1 to 13"),
        ("used", "no segment was polished"),
    ):
        bench.do(Act.MARK, text)
        assert sentence in bench.shot.refusal
        assert bench.shot.mark == drawn
    bench.do(Act.MARK, f"{other} chip at the drawn mark")
    assert (bench.shot.mark, bench.shot.refusal) == (other, "")
    last = list(book(bench).of_kind("mark_draw"))[-1].fields
    assert (last["mark"], last["override_of"], last["why"]) == (other, drawn, "chip at the drawn mark")
    assert drawn in last["candidates"]
    bench.start()
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING)
    assert bench.runner.books.record is not None
    assert bench.runner.books.record.mark == other


def test_the_mark_is_not_changed_once_armed(bench: Driven) -> None:
    """The glass cannot be moved under a lap that is about to turn."""
    bench.start()
    mark = bench.shot.mark
    bench.do(Act.MARK, "9 second thoughts")
    assert bench.shot.mark == mark
    assert "while the table rests" in bench.shot.refusal


def short_segment(bench: Driven) -> int:
    """A segment stopped after a few turns, its lap lifted; the mark it was at."""
    bench.start()
    bench.go(20.0)
    mark = bench.shot.mark
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING)
    bench.do(Act.LIFTED)
    assert mark is not None
    return mark


def test_a_segment_cut_short_gives_its_mark_back(bench: Driven) -> None:
    """By the rule the same mark is offered again for the next segment."""
    mark = short_segment(bench)
    bench.do(Act.NEXT)
    assert bench.shot.mark == mark
    assert bench.shot.marks is not None
    assert "again" in bench.shot.marks.choice


def test_the_person_may_call_its_mark_used(bench: Driven) -> None:
    """The choice is kept as a correction of the record, and the next program draws the same conclusion."""
    mark = short_segment(bench)
    bench.do(Act.MARK, "used")
    bench.do(Act.NEXT)
    assert bench.shot.mark != mark
    kept = book(bench)
    again = Preparation(kept, demo_job(), lambda: 1)
    assert again.next_mark() == (bench.shot.mark, None)
    assert mark not in again.view().unused


def test_the_choice_may_come_after_the_next_draw(bench: Driven) -> None:
    """Told only when the next segment is ready, 'used' draws anew at once, and 'again' takes it back."""
    mark = short_segment(bench)
    bench.do(Act.NEXT)
    bench.do(Act.MARK, "used")
    other = bench.shot.mark
    assert other != mark
    bench.do(Act.MARK, "again")
    assert bench.shot.mark == mark
    assert Preparation(book(bench), demo_job(), lambda: 1).next_mark() == (mark, None)


def test_the_file_may_ask_for_a_plain_draw(tmp_path: Path) -> None:
    """With draw = "plain" every unused mark is a candidate."""
    job = demo_job()
    plain = job.model_copy(update={"marks": job.marks.model_copy(update={"draw": "plain"})})
    marks = Preparation(Logbook(), plain, lambda: 3)
    for number in (1, 2, 3):
        mark, drawn = marks.next_mark()
        assert drawn is not None
        assert (drawn["method"], drawn["candidates"]) == ("plain", drawn["unused"])
        marks.take("segment_end", {"mark": mark, "table_turns": 400.0}, f"id-{number}")
