"""What a person adds to the logbook: looks, notes, and corrections that leave the old record standing."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.lines import RESERVED, SEGMENT_CLOSED, Entry
from benchctl.logbook.look_words import look_of
from benchctl.logbook.segments import Segment, corrected, corrections, find_segment, segments
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.kept import check_fields, known_fields
from benchctl.units import printable

TEXT_LIMIT = 2000
_KEPT = frozenset(("segment", "event", "corrects", "why", "seed", "simulated"))
"""Fields that join records or say how they came about; they are not corrected."""


def add_look(
    writer: LogbookWriter, words: Sequence[str], segment: str | None, at: datetime, mono_s: float
) -> str:
    """Keep a look at the glass told in words, after a segment by number or id (the last one); its id.

    BadInput for no such segment and for a look that cannot be.
    """
    found = segments(writer.history)
    one = _segment(found, segment) if segment is not None else found[-1] if found else None
    mirror = str(one.fields.get("mirror", "")) if one else ""
    look = look_of(words, segment=one.id if one else "", mirror=mirror)
    return writer.append("inspection", look.model_dump(mode="json"), at=at, mono_s=mono_s)


def _segment(found: list[Segment], name: str) -> Segment:
    one = find_segment(found, name)
    if one is None:
        raise BadInput(f"there is no segment '{printable(name)}'; `benchctl logbook list` has the numbers")
    return one


def add_note(
    writer: LogbookWriter, text: str, segment: str | None, lap_care: str | None, at: datetime, mono_s: float
) -> str:
    """Keep a remark, to a segment by number or id; the note's id. BadInput for no text or no such segment."""
    fields: dict[str, Any] = {"text": _text(text, "the note")}
    found = segments(writer.history)
    if segment is not None:
        fields["segment"] = _segment(found, segment).id
    if lap_care is not None:
        fields |= {"lap_care": lap_care, "lap": str(found[-1].fields.get("lap", "")) if found else ""}
    return writer.append("note", fields, at=at, mono_s=mono_s)


def add_correction(
    writer: LogbookWriter, name: str, changes: Sequence[str], why: str, at: datetime, mono_s: float
) -> str:
    """Keep a correction of the record `name`; `changes` are 'field=value'; the correction's id."""
    entry = _record(writer, name)
    fields = dict(_change(change, entry) for change in changes)
    _check(corrected(entry, corrections(writer.history)), fields)
    whole = {"corrects": entry.id, "why": _text(why, "the reason")} | fields
    return writer.append("correction", whole, at=at, mono_s=mono_s)


def _text(text: str, what: str) -> str:
    if not text.strip():
        raise BadInput(f"{what} is empty; write a few words")
    if len(text) > TEXT_LIMIT:
        raise BadInput(f"{what} has {len(text)} characters; the limit is {TEXT_LIMIT}; shorten it")
    return text.strip()


def _record(writer: LogbookWriter, name: str) -> Entry:
    """The record meant; a segment's number or its start's id means the record of its end."""
    segment = find_segment(segments(writer.history), name)
    entry = writer.history.find(segment.end.id if segment else name)
    if entry is None:
        raise BadInput(f"there is no record '{printable(name)}'; `benchctl logbook list` has numbers and ids")
    if entry.kind == "correction":
        raise BadInput(
            f"'{printable(name)}' is itself a correction; correct the record it names once more instead"
        )
    return entry


def _change(change: str, entry: Entry) -> tuple[str, Any]:
    name, sign, text = change.partition("=")
    if not sign or not name.isidentifier():
        raise BadInput(f"'{printable(change)}' is not FIELD=VALUE; write it such as mark=7")
    if name in RESERVED | _KEPT or (name not in entry.fields and entry.kind not in SEGMENT_CLOSED):
        raise BadInput(f"'{printable(name)}' is not a field of this record that can be corrected")
    try:
        return name, json.loads(text, parse_constant=_no_constant)
    except ValueError:
        return name, text


def _no_constant(word: str) -> None:
    raise BadInput(f"{word} is not a value; leave the field out or write null")


def _check(entry: Entry, fields: dict[str, Any]) -> None:
    """Refuse a correction that would leave a record which could not have been written."""
    known = known_fields(entry.kind)
    if not known:
        return
    if unknown := fields.keys() - known - entry.fields.keys():
        raise BadInput(
            f"'{printable(min(unknown))}' is not a field of this record; `show --json` has the names"
        )
    check_fields(entry.kind, {key: value for key, value in (entry.fields | fields).items() if key in known})
