"""The segments of a logbook: each start joined with its end, corrections put in, oldest first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from benchctl.logbook.lines import SEGMENT_CLOSED, Entry, read_together
from benchctl.logbook.reader import Logbook
from benchctl.models.json_values import as_number

if TYPE_CHECKING:
    from benchctl.models.segment_record import SegmentRecord

CORRECTION_FIELDS = frozenset(("corrects", "why"))


def end_fields(segment_id: str, record: SegmentRecord) -> dict[str, Any]:
    """What `segment_end` keeps: the segment's record, and the id of its `segment_start`."""
    return {"segment": segment_id} | record.model_dump(mode="json")


@dataclass(frozen=True)
class Segment:
    """One segment that has ended: its end joined with its start, corrections put in.

    `number` counts from 1 in the logbook. `start` is None where the start was lost or never was.
    """

    number: int
    start: Entry | None
    end: Entry
    changes: tuple[Entry, ...] = ()

    @property
    def n(self) -> int:
        """Sequence number of the end in the logbook: the order of records is by it, not by the clock."""
        return self.end.n

    @property
    def id(self) -> str:
        return (self.start or self.end).id

    @property
    def started_at(self) -> str:
        return (self.start or self.end).at

    @property
    def ended_at(self) -> str:
        return self.end.at

    @cached_property
    def end_fields(self) -> dict[str, Any]:
        """The fields of its end with corrections put in; enough for a list."""
        if not self.changes:
            return self.end.fields
        fields = dict(self.end.fields)
        for change in self.changes:
            fields |= {key: value for key, value in change.fields.items() if key not in CORRECTION_FIELDS}
        return fields

    @cached_property
    def fields(self) -> dict[str, Any]:
        """A segment record's fields with the facts of its start."""
        return (self.start.fields if self.start else {}) | self.end_fields

    def flat(self) -> dict[str, Any]:
        """All in one dictionary, names first."""
        first = self.start or self.end
        whole: dict[str, Any] = {
            "event": "segment_record",
            "segment_number": self.number,
            "id": first.id,
            "started_at": first.at,
            "ended_at": self.end.at,
        }
        whole |= self.start.fields if self.start else {}
        whole |= self.end_fields
        whole |= {"event": "segment_record", "corrected_by": [change.id for change in self.changes]}
        whole.pop("segment", None)
        return whole

    def number_of(self, name: str) -> float | None:
        """A field as a number, or None where it is missing or not a number."""
        return as_number(self.fields.get(name))


def corrections(book: Logbook) -> dict[str, list[Entry]]:
    """The corrections of each record id, in the order they were written."""
    found: dict[str, list[Entry]] = defaultdict(list)
    for entry in book.of_kind("correction"):
        found[str(entry.fields.get("corrects"))].append(entry)
    return found


def corrected(entry: Entry, changes: Mapping[str, list[Entry]]) -> Entry:
    """The record with its corrections put in; the logbook itself keeps both."""
    fields = dict(entry.fields)
    for change in changes.get(entry.id, ()):
        fields |= {key: value for key, value in change.fields.items() if key not in CORRECTION_FIELDS}
    return entry.with_fields(fields)


def segments(book: Logbook) -> list[Segment]:
    """The segments that have ended, in the order of their ends."""
    starts = {entry.id: entry for entry in book.of_kind("segment_start")}
    changes = corrections(book)
    ends = list(book.of_kind(*SEGMENT_CLOSED))
    read_together(ends)
    found = []
    for number, end in enumerate(ends, start=1):
        start = starts.get(str(end.fields.get("segment")))
        found.append(Segment(number, start, end, _changes_of(start, end, changes) if changes else ()))
    return found


def _changes_of(start: Entry | None, end: Entry, changes: Mapping[str, list[Entry]]) -> tuple[Entry, ...]:
    return tuple(change for entry in (start, end) if entry for change in changes.get(entry.id, ()))


def find_segment(found: list[Segment], name: str) -> Segment | None:
    """The segment with this id, with this id of its end, or with this number in digits; or None."""
    if name.isdecimal() and len(name) < 10:
        number = int(name)
        return found[number - 1] if 1 <= number <= len(found) else None
    return next((one for one in found if name in (one.id, one.end.id)), None)


def inspections(book: Logbook) -> list[Entry]:
    """The looks at the glass, corrections put in, oldest first."""
    changes = corrections(book)
    return [corrected(entry, changes) for entry in book.of_kind("inspection")]


def inspection_due(book: Logbook) -> Segment | None:
    """The last segment that turned, where nobody has looked at the glass since; None where somebody has."""
    looked_n = max((entry.n for entry in book.of_kind("inspection")), default=0)
    since = [one for one in segments(book) if one.n > looked_n]
    return next((one for one in reversed(since) if (one.number_of("table_turns") or 0.0) > 0), None)
