"""The place before the start: the mark, huge; the set-up in figures; the questions, one at a time. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.segment.states import State
from benchctl.tui.banner import ARROW_COLUMNS, band, large
from benchctl.tui.blocks import clock, figures
from benchctl.tui.checklist import Checklist, Question
from benchctl.tui.rows import Row, beside, block, fit, row, wrapped
from benchctl.tui.signs import RESET_FIRST, do_sign, needs_reset
from benchctl.tui.view import View

CAUTION = "STOP is no emergency stop: the machine needs a hard-wired one. Stay with a turning table."


def prepare(
    view: View, checklist: Checklist, asked: list[Question], differences: Sequence[str] = ()
) -> list[Row]:
    """The whole page, `view.height` rows."""
    mark_rows = 5 if view.height < 20 else 7 if view.height < 30 else 9
    top = _mark(view, mark_rows, differences)
    do = _do(view, checklist, asked)
    left = view.height - len(top) - len(do)
    return block([*top, *do, *_questions(checklist, asked, view.width, left)], view.height)


def _mark(view: View, rows: int, differences: Sequence[str]) -> list[Row]:
    shot = view.shot
    mark = "--" if shot.mark is None else f"{shot.mark:d}"
    shown = [row((f" {line}", "strong")) for line in figures(f"{mark:>2}", rows)]
    used = len(shown[0][0][0]) + 3
    return beside(shown, block(_setup(view, view.width - used, differences), rows), used, view.width)


def _setup(view: View, width: int, differences: Sequence[str]) -> list[Row]:
    shot = view.shot
    what = "no mark drawn" if shot.mark is None else f"MARK {shot.mark}: turn the mirror to it"
    held = "captured" if shot.weights_captured else "LOOSE"
    found = [row((what, "strong"))]
    if shot.recovered:
        found += wrapped(f"▲ {shot.recovered}", width, "abnormal")
    found += [row((f"▲ now otherwise: {line}", "abnormal")) for line in differences]
    found += wrapped(
        f"{shot.mirror}: load {shot.load_n:.0f} N ({shot.load_n / 9.80665:.1f} kg), {held}, post "
        f"{shot.post_offset_m * 1000:.0f} mm, {clock(shot.planned_s)} at {shot.work_rpm:g} rpm",
        width,
    )
    return [fit(line, width) for line in [*found, *wrapped(CAUTION, width, "quiet")]]


def _do(view: View, checklist: Checklist, asked: list[Question]) -> list[Row]:
    reset = needs_reset(view.shot)
    question = checklist.asked(asked) if view.shot.state is State.READY and not reset else None
    open_ones = checklist.left(asked)
    sign, sentence = do_sign(view.shot), RESET_FIRST if reset else view.shot.do_now
    if question is not None:
        keys = "" if len(question.answers) > 1 else " KEY Y"
        sign = f"{question.sign}{keys}"
        sentence = f"{open_ones} to answer, ↓ skips one; A arms when all is ready"
    if question is not None and large(sign, view.width - ARROW_COLUMNS) is None:
        sign = question.sign
    return band(sign, sentence, view.width)


def _questions(checklist: Checklist, asked: list[Question], width: int, rows: int) -> list[Row]:
    """The list, answered ones ticked; only the part round the asked one where there is no room."""
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
