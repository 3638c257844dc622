"""Cold presses of a logbook, and those that were begun and never ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from benchctl.logbook.lines import Entry
from benchctl.logbook.reader import Logbook
from benchctl.logbook.running import last_progress, without_end
from benchctl.logbook.segments import corrected, corrections
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.json_values import as_number

FREE_THE_LAP = (
    "The lap may still stand on the glass under load: wet its edge, wait until it slides, never pull it up; "
    "then press again for the rest, or anew."
)
_OF_THE_START = (
    "mirror",
    "lap",
    "load_kg",
    "load_n",
    "planned_s",
    "shift_at_s",
    "first_place_m",
    "simulated",
)


@dataclass(frozen=True)
class OpenPress:
    """A press without an end: its start, and its last sign of life where there was one."""

    start: Entry
    progress: Entry | None

    @property
    def ran_s(self) -> float:
        """How long it is known to have pressed, in seconds."""
        known = {} if self.progress is None else self.progress.fields
        return as_number(known.get("length_s")) or 0.0

    @property
    def last_at(self) -> str:
        return (self.progress or self.start).at

    def fields(self) -> dict[str, Any]:
        """The record of its end: what was meant, what is known, and that it was interrupted."""
        meant = {name: self.start.fields[name] for name in _OF_THE_START if name in self.start.fields}
        known = {"length_s": 0.0, "first_place_s": 0.0} | (
            {} if self.progress is None else self.progress.fields
        )
        ending = {
            "press": self.start.id,
            "event": "press_record",
            "outcome": "interrupted",
            "last_sign_at": self.last_at,
        }
        return meant | known | ending

    def sentence(self) -> str:
        """What the next start says first."""
        planned = (as_number(self.start.fields.get("planned_s")) or 0.0) / 60
        shifted = " and shifted" if self.progress is not None and self.progress.fields.get("shifted") else ""
        return (
            f"A cold press had run {self.ran_s / 60:.0f} of {planned:.0f} min{shifted} when the program "
            f"ended at {self.last_at[11:16] or 'an unknown time'}. {FREE_THE_LAP}"
        )


def open_presses(folder: Path, book: Logbook) -> list[OpenPress]:
    """The presses of `book` (read from `folder`) that have a start and no end, oldest first."""
    starts = without_end(book.of_kind("press_start"), book.of_kind("press"), "press")
    return [OpenPress(start, last_progress(folder, start.id)) for start in starts]


def close_open_presses(writer: LogbookWriter, *, at: datetime, mono_s: float) -> list[OpenPress]:
    """Write the end of each press that has none, as the logbook was when opened.

    Call once at the start of a session, before any press. `at` is wall time, `mono_s` monotonic seconds.
    """
    found = open_presses(writer.folder, writer.history)
    for one in found:
        writer.append("press", one.fields(), at=at, mono_s=mono_s)
    return found


def presses(book: Logbook) -> list[Entry]:
    """The presses that have ended, corrections put in, oldest first."""
    changes = corrections(book)
    return [corrected(entry, changes) for entry in book.of_kind("press")]
