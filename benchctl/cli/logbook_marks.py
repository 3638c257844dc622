"""The logbook's marks, as the planner sees them: the question `marks`, and the report's picture."""

from __future__ import annotations

from dataclasses import asdict

from benchctl.errors import BadInput
from benchctl.logbook.lines import SEGMENT_CLOSED
from benchctl.logbook.questions import Answer
from benchctl.logbook.reader import Logbook
from benchctl.logbook.report import MarksPicture, MarkStep, mirror_shown
from benchctl.logbook.segments import segments
from benchctl.planner.mark_ledger import MarkLedger
from benchctl.planner.marks import current_pass, print_sum, replays
from benchctl.units import printable

MOST_MARKS = 60


def _mirror(book: Logbook) -> str:
    """The mirror of the last segment, or of the last draw where none was polished yet."""
    drawn = [str(entry.fields.get("mirror", "")) for entry in book.of_kind("mark_draw")]
    return mirror_shown(book, None) or (drawn[-1] if drawn else "")


def _count(book: Logbook, asked: int | None, mirror: str) -> int | None:
    """Marks on the mirror's rim: as asked, or as its last draw says."""
    if asked is not None:
        if not 1 <= asked <= MOST_MARKS:
            raise BadInput(f"--marks {asked} is out of range; the rim takes 1 to {MOST_MARKS}")
        return asked
    draws = (entry.fields for entry in book.of_kind("mark_draw"))
    counts = [fields.get("mark_count") for fields in draws if fields.get("mirror", mirror) == mirror]
    known = [count for count in counts if isinstance(count, int) and 1 <= count <= MOST_MARKS]
    return known[-1] if known else None


def _ledger(book: Logbook, count: int, mirror: str) -> MarkLedger:
    """Draws and segments of one mirror in the order of the logbook, corrections put in."""
    ends = {one.n: one for one in segments(book)}
    ledger = MarkLedger(count)
    for entry in book.of_kind("mark_draw", *SEGMENT_CLOSED):
        if entry.n in ends:
            fields = ends[entry.n].fields
            if fields.get("mirror", "") == mirror:
                ledger.take(entry.kind, fields)
        elif entry.fields.get("mirror", mirror) == mirror:
            ledger.take(entry.kind, entry.fields)
    return ledger


def marks_answer(book: Logbook, asked: int | None) -> Answer:
    """Marks unused in this pass, print-through left, and where the draw was overridden."""
    mirror = _mirror(book)
    count = _count(book, asked, mirror)
    if count is None:
        raise BadInput("the logbook does not say how many marks the rim has; add --marks, such as --marks 13")
    ledger = _ledger(book, count, mirror)
    now, view = ledger.now, ledger.view()
    sentences = [
        f"Pass {now.number} of {count} marks: {len(now.used)} used, it ends in {now.ends_in} segments.",
        f"Unused: {', '.join(map(str, now.unused))}.",
        view.left,
    ]
    if ledger.waiting is not None:
        sentences.append(f"Mark {ledger.waiting} is drawn and not yet polished at.")
    sentences += [
        f"Mark {one.mark} instead of {one.override_of}: {printable(one.why)}." for one in ledger.overrides
    ]
    if ledger.draws:
        sound = sum(map(replays, ledger.draws))
        sentences.append(
            f"{sound} of {len(ledger.draws)} draws come out again from their seed and candidates."
        )
    row = {
        "mark_count": count,
        "print_through_2": view.two_fold,
        "print_through_3": view.three_fold,
        "overrides": [one.fields() for one in ledger.overrides],
        "waiting": ledger.waiting,
        "draws": len(ledger.draws),
        "draws_replayed": sum(map(replays, ledger.draws)),
    }
    return Answer(sentences, [row | asdict(now)])


def marks_picture(book: Logbook, mirror: str | None, asked: int | None) -> MarksPicture | None:
    """The marks of one mirror for the report, or None where the number of marks is not known."""
    shown = mirror_shown(book, mirror)
    count = _count(book, asked, shown)
    if count is None:
        return None
    placed = _ledger(book, count, shown).placed
    steps, total, two, three = [], 0.0, 0j, 0j
    for one in placed:
        total += one.depth
        two, three = two + print_sum([one], count, 2), three + print_sum([one], count, 3)
        steps.append(MarkStep(one.mark, two / total, three / total))
    return MarksPicture(count, steps, current_pass(placed, count).unused)
