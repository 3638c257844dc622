"""The place before the start: the mark, huge; the set-up in figures; the questions, one at a time. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from benchctl.segment.states import State
from benchctl.session.snapshot import Snapshot
from benchctl.tui.banner import ARROW_COLUMNS, band, heights
from benchctl.tui.blocks import LETTER_ROWS, clock, figures
from benchctl.tui.checklist import INTERRUPTED, Checklist, Question
from benchctl.tui.lines import load_words, offset_words
from benchctl.tui.rows import Row, beside, block, fit, paragraphs, row
from benchctl.tui.signs import do_sign, held_stop
from benchctl.tui.view import View

CAUTION = "STOP is no emergency stop: the machine needs a hard-wired one. Stay with a turning table."


MARK_HEIGHTS = (5, 7, 9, 11, 13, 15, 17, 19, 21)
HUGE_ROWS = 13
"""Least height of a mark that is asked for, where there is room."""
FEW_QUESTIONS = 3
SET_UP_WIDTH = 34
"""Columns that the set-up in words needs beside the mark."""


class Preparation(NamedTuple):
    """What the page shows besides the bench: questions and answers, what is set otherwise than last time,
    and what the lap's sensor cannot show."""

    checklist: Checklist
    asked: list[Question]
    differences: Sequence[str] = ()
    blind_spot: str = ""
    look_due: str = ""


def prepare(view: View, preparation: Preparation) -> list[Row]:
    """The whole page, `view.height` rows."""
    forms, sentence = _what_to_do(view, preparation.checklist, preparation.asked)
    mark_rows, do_rows = _rows(view, preparation, forms)
    top = _mark(view, mark_rows, preparation)
    do = band(_largest(forms, view, do_rows), sentence, view.width, do_rows)
    left = view.height - len(top) - len(do)
    return block([*top, *do, *_questions(preparation, view.width, left)], view.height)


def _rows(view: View, preparation: Preparation, forms: Sequence[str]) -> tuple[int, int]:
    """Rows of the mark and of what to do; while the mark or an interruption is asked about, all but a few."""
    question = preparation.checklist.asked(preparation.asked)
    huge = question is not None and question.name in ("mark", INTERRUPTED.name)
    listed = FEW_QUESTIONS if huge else len(preparation.asked)
    mark, do = MARK_HEIGHTS[0], LETTER_ROWS + 1
    least = HUGE_ROWS if huge else mark
    for tall in {rows for form in forms for rows in heights(form, view.width - ARROW_COLUMNS)}:
        if least + tall + 1 + listed <= view.height:
            do = max(do, tall + 1)
    for tall in MARK_HEIGHTS:
        if tall + do + listed <= view.height and mark_width(tall) + SET_UP_WIDTH <= view.width:
            mark = tall
    return mark, do


def _largest(forms: Sequence[str], view: View, rows: int) -> str:
    """The first of the forms that can be shown as large as any of them."""
    width = view.width - ARROW_COLUMNS
    return max(forms, key=lambda form: max((h for h in heights(form, width) if h < rows), default=0))


def mark_width(rows: int) -> int:
    """Columns of two figures of this height and the gap beside them."""
    return len(figures("88", rows)[0]) + 4


def _mark(view: View, rows: int, preparation: Preparation) -> list[Row]:
    shot = view.shot
    mark = "--" if shot.mark is None else f"{shot.mark:d}"
    shown = [row((f" {line}", "strong")) for line in figures(mark, rows)]
    used = len(shown[0][0][0]) + 3
    words = paragraphs(set_up(shot, view.units, preparation), view.width - used, rows)
    return beside(shown, words, used, view.width)


def set_up(shot: Snapshot, units: str, preparation: Preparation) -> list[tuple[str, str]]:
    """What to know before the questions, most needed first, each with its role."""
    what = "no mark drawn" if shot.mark is None else f"MARK {shot.mark}: turn the mirror to it"
    held = "captured" if shot.weights_captured else "LOOSE"
    load = load_words(shot.load_n, units)
    offset = offset_words(shot.post_offset_m, units)
    other = "; ".join(preparation.differences)
    blind = preparation.blind_spot
    warned = [shot.refusal, shot.look_at, shot.recovered, f"not as last time: {other}" if other else ""]
    warned += [preparation.look_due, f"lap sensor: {blind}" if blind else ""]
    fixed = (
        f"{shot.mirror}: load {load}, {held}, post {offset}, {clock(shot.planned_s)} at {shot.work_rpm:g} rpm"
    )
    found = [(what, "strong"), *((f"▲ {text}", "abnormal") for text in warned if text)]
    marks = "" if shot.marks is None else shot.marks.sentence
    return [*found, (fixed, ""), (marks, ""), (CAUTION, "quiet")]


def _what_to_do(view: View, checklist: Checklist, asked: list[Question]) -> tuple[Sequence[str], str]:
    """What to do now: the words for block letters in longer and shorter forms, and the sentence."""
    held = held_stop(view.shot)
    question = checklist.asked(asked) if view.shot.state is State.READY and not held else None
    if question is not None:
        keys = ("",) if len(question.answers) > 1 else (" KEY Y", " Y", "")
        left = checklist.left(asked)
        sentence = f"{left} to answer, ↓ skips one; A arms when all is ready"
        if question is INTERRUPTED:
            sentence = "Let it slide, take it off, look at the glass; then Y"
        return [f"{question.sign}{key}" for key in keys], sentence
    sign, sentence = held or (do_sign(view.shot), view.shot.do_now)
    return [sign], sentence


def _questions(preparation: Preparation, width: int, rows: int) -> list[Row]:
    """The list, answered ones ticked; only the part round the asked one where there is no room."""
    checklist, asked = preparation.checklist, preparation.asked
    now = checklist.asked(asked)
    at = asked.index(now) if now is not None else len(asked) - 1
    first = max(0, min(at - rows // 2, len(asked) - rows))
    found = []
    for question in asked[first : first + max(0, rows)]:
        answer = checklist.answers.get(question.name)
        sign = "▶" if question is now else " "
        box = "□" if answer is None else "■"
        said = "" if answer is None else f": {answer}"
        found.append(
            fit(row((f" {sign} {box} {question.asks}{said}", "strong" if question is now else "")), width)
        )
    return found
