"""The mark of the next segment: drawn from what the logbook tells, offered again until it is polished at.

What a person says of marks is one line of text: "9 chip at the drawn mark" takes another mark and says why,
"used" and "again" say what a segment that was cut short does to its mark.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.lines import SEGMENT_CLOSED
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import segments
from benchctl.models.job import Job
from benchctl.planner.mark_ledger import MarkLedger, MarkView
from benchctl.planner.marks import Draw
from benchctl.units import printable

SETTLED = {"used": True, "again": False}


class Preparation:
    """Knows the marks of one mirror; `seed` gives a new seed for each draw."""

    def __init__(self, book: Logbook, job: Job, seed: Callable[[], int]) -> None:
        self._mirror = job.mirror.name
        self._plan = job.marks
        self._seed = seed
        self._ledger = MarkLedger(job.marks.count)
        self._last_end = ""
        self._view: MarkView | None = None
        self._facts = {
            "mirror_radius_m": job.mirror.radius_m,
            "mirror_hole_radius_m": job.mirror.hole_radius_m,
            "lap_radius_m": job.lap.radius_m,
        }
        ends = {one.n: one for one in segments(book)}
        for entry in book.of_kind("mark_draw", *SEGMENT_CLOSED):
            fields = ends[entry.n].fields if entry.n in ends else entry.fields
            self.take(entry.kind, fields, entry.id)

    def take(self, kind: str, fields: dict[str, Any], record_id: str = "") -> None:
        """Take a record of the logbook, an old one or one that was just made, with its id."""
        if fields.get("mirror", self._mirror) != self._mirror:
            return
        before = len(self._ledger.placed)
        self._ledger.take(kind, self._facts | fields)
        self._view = None
        if len(self._ledger.placed) > before:
            self._last_end = record_id

    def next_mark(self) -> tuple[int, dict[str, Any] | None]:
        """The mark for the next segment, and the draw for the logbook where it was drawn now."""
        if self._ledger.waiting is not None:
            return self._ledger.waiting, None
        if self._plan.start is not None and not self._ledger.placed:
            return self._plan.start, None
        drawn, self._view = self._ledger.next_draw(self._seed(), self._plan.draw), None
        return drawn.mark, self._fields(drawn)

    def choose(self, mark: int, why: str) -> dict[str, Any]:
        """Take another mark than the one offered: the draw for the logbook. BadInput without a reason."""
        if self._ledger.drawn is None:
            self._ledger.next_draw(self._seed(), self._plan.draw)
        self._view = None
        return self._fields(self._ledger.choose(mark, why))

    def settle(self, used: bool) -> dict[str, Any]:
        """The person's word on whether the last segment has used up its mark: the correction for the logbook.

        BadInput where there is no such segment.
        """
        self._ledger.settle(used)
        self._view = None
        word = "its mark is used up" if used else "its mark is given back"
        return {"corrects": self._last_end, "mark_used": used, "why": word}

    def view(self) -> MarkView:
        """Where the marks stand."""
        if self._view is None:
            self._view = self._ledger.view()
        return self._view

    def _fields(self, drawn: Draw) -> dict[str, Any]:
        return drawn.fields() | {"mirror": self._mirror}


def mark_and_reason(text: str) -> tuple[int, str]:
    """ "9 chip at the drawn mark" as a mark and a reason. BadInput where it does not begin with a number."""
    number, _, why = text.strip().partition(" ")
    if not number.isascii() or not number.isdecimal() or len(number) > 4:
        raise BadInput(f"'{printable(text)}' begins with no mark; write its number, then why")
    return int(number), why.strip()
