"""Segments that were begun and never ended: what was running, how long it ran, what to do to the glass."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from benchctl.logbook.lines import SEGMENT_CLOSED, Entry
from benchctl.logbook.reader import Logbook
from benchctl.logbook.running import last_progress, without_end
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.json_values import as_number

WHAT_TO_DO = (
    "Do not start the table. Wet the edge of the lap, wait until it slides, take it off the glass; "
    "then look for dried compound and sleeks."
)


@dataclass(frozen=True)
class Interrupted:
    """A segment without an end. `ran_s` is how long the table was last known to have turned, in seconds;
    the true time is at most about 5 s more. `last_at` is the wall time of the last sign of life, ISO 8601."""

    start: Entry
    progress: Entry | None

    @property
    def segment(self) -> str:
        return self.start.id

    @property
    def ran_s(self) -> float:
        return as_number(self._known().get("polishing_s")) or 0.0

    @property
    def last_at(self) -> str:
        return (self.progress or self.start).at

    def _known(self) -> dict[str, Any]:
        return {} if self.progress is None else self.progress.fields

    def fields(self) -> dict[str, Any]:
        """What goes into the logbook: the start's plan and the last progress, named as in a segment record.

        How the table was stopped is not known (by the board, or at once by a power cut), so it is null.
        """
        measured = dict.fromkeys(("polishing_s", "table_turns", "lap_turns", "useful_turns"), 0.0)
        ending = {
            "segment": self.segment,
            "event": "segment_record",
            "outcome": "stopped",
            "stop_reason": "interrupted",
            "stop_kind": None,
            "wet_down": "not_reached",
            "last_sign_at": self.last_at,
        }
        return self.start.fields | measured | self._known() | ending

    def sentence(self) -> str:
        """What the next start says first."""
        mark = self.start.fields.get("mark")
        at_mark = "" if mark is None else f" at mark {mark}"
        clock = self.last_at[11:16] or "an unknown time"
        if self.progress is None:
            ran = "was begun, and nothing is known of how long it ran"
        else:
            ran = f"had run {self.ran_s / 60:.1f} min" if self.ran_s >= 60 else f"had run {self.ran_s:.0f} s"
        kept = "what it did is kept, and the pass of marks goes on"
        ended = f"when the program ended without warning at {clock}"
        return f"A segment{at_mark} {ran} {ended}; {kept}. {WHAT_TO_DO}"


def open_segments(folder: Path, book: Logbook) -> list[Interrupted]:
    """The segments of `book` (read from `folder`) that have a start and no end, oldest first."""
    starts = without_end(book.of_kind("segment_start"), book.of_kind(*SEGMENT_CLOSED), "segment")
    return [Interrupted(start, last_progress(folder, start.id)) for start in starts]


def close_open_segments(writer: LogbookWriter, *, at: datetime, mono_s: float) -> list[Interrupted]:
    """Write `segment_interrupted` for each start without an end, as the logbook was when opened.

    Call once at the start of a session, before any segment. `at` is wall time, `mono_s` monotonic seconds.
    """
    found = open_segments(writer.folder, writer.history)
    for one in found:
        writer.append("segment_interrupted", one.fields(), at=at, mono_s=mono_s)
    return found
