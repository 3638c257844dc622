"""The mark of the next segment: drawn from what the logbook tells, offered again until it is polished at."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import segments
from benchctl.planner.marks import MarkLedger, draw


class Preparation:
    """Knows the marks of one mirror; `seed` gives a new seed for each draw."""

    def __init__(
        self, book: Logbook, mirror: str, count: int, seed: Callable[[], int], start: int | None = None
    ) -> None:
        self._mirror = mirror
        self._seed = seed
        self._start = start
        self._ledger = MarkLedger(count)
        ends = {one.n: one for one in segments(book)}
        for entry in book.entries:
            fields = ends[entry.n].fields if entry.n in ends else entry.fields
            self.take(entry.kind, fields)

    def take(self, kind: str, fields: dict[str, Any]) -> None:
        """Take a record of the logbook, an old one or one that was just made."""
        if fields.get("mirror", self._mirror) == self._mirror:
            self._ledger.take(kind, fields)

    def next_mark(self) -> tuple[int, dict[str, Any] | None]:
        """The mark for the next segment, and the draw for the logbook where it was drawn now."""
        if self._ledger.waiting is not None:
            return self._ledger.waiting, None
        if self._start is not None and not self._ledger.placed:
            return self._start, None
        drawn = draw(self._ledger.placed, self._ledger.count, self._seed())
        fields = drawn.fields() | {"mirror": self._mirror}
        self._ledger.take("mark_draw", fields)
        return drawn.mark, fields
