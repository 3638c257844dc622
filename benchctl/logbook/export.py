"""The logbook for other programs: CSV and JSON, one segment, one zone or one record a row.

In CSV, a text that a spreadsheet would take for a formula gets an apostrophe before it (CWE-1236; OWASP
ASVS 5.0 requirement 1.2.10, read); numbers stay numbers. Quoting is RFC 4180's. The first row has the
names; each name says its unit.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from benchctl.errors import BadInput
from benchctl.logbook.lines import SEGMENT_CLOSED
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import corrected, corrections, find_segment, inspections, segments
from benchctl.models.whole_file import replace_whole
from benchctl.units import printable

What = Literal["segments", "zones", "blemishes", "records"]
WHATS: tuple[What, ...] = ("segments", "zones", "blemishes", "records")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")


def rows(book: Logbook, what: What) -> list[dict[str, Any]]:
    """The rows of one kind, oldest first; nested values stay nested."""
    if what == "segments":
        return [segment.flat() for segment in segments(book)]
    if what == "records":
        return [entry.flat() for entry in book.entries]
    looks = inspections(book)
    if what == "zones":
        return [row for look in looks for row in zone_rows(look.id, look.at, look.fields)]
    return [
        {"inspection": look.id, "at": look.at} | blemish
        for look in looks
        for blemish in look.fields.get("blemishes") or ()
        if isinstance(blemish, dict)
    ]


def zone_rows(look_id: str, at: str, fields: Mapping[str, Any]) -> list[dict[str, Any]]:
    """One row a zone of a look: its scores, and the mean of its pits where all were counted."""
    zones = fields.get("zones")
    named = [(str(i), zone) for i, zone in enumerate(zones if isinstance(zones, list) else (), start=1)]
    named.append(("edge", fields.get("edge")))
    found = []
    for name, zone in named:
        if not isinstance(zone, dict):
            continue
        pits = zone.get("pits") or []
        counts = [one for one in pits if isinstance(one, int)] if isinstance(pits, list) else []
        mean = sum(counts) / len(counts) if counts and len(counts) == len(pits) else None
        too_many = bool(pits) and len(counts) < len(pits)
        head = {"inspection": look_id, "at": at, "segment": fields.get("segment"), "zone": name}
        found.append(head | zone | {"pits_mean": mean, "pits_too_many": too_many})
    return found


def whole_record(book: Logbook, name: str) -> dict[str, Any]:
    """A segment (by number or id) or any record (by id), corrected, with what belongs to it.

    BadInput where there is no such record.
    """
    segment = find_segment(segments(book), name)
    if segment is not None:
        names = {segment.id, segment.end.id}
        record = segment.flat()
    else:
        entry = book.find(name)
        if entry is None:
            raise BadInput(
                f"there is no record '{printable(name)}'; `benchctl logbook list` has numbers and ids"
            )
        names = {entry.id}
        record = corrected(entry, corrections(book)).flat()
    belonging: dict[str, list[dict[str, Any]]] = {}
    for one in book.entries:
        about = {str(one.fields.get("segment")), str(one.fields.get("corrects"))}
        if one.kind not in SEGMENT_CLOSED and about & names:
            belonging.setdefault(f"{one.kind}s", []).append(one.flat())
    return record | belonging


def to_csv(table: Sequence[Mapping[str, Any]]) -> str:
    """The table as CSV; a nested value becomes columns (`shares.steady`) or JSON in its cell (lists)."""
    flat = [dict(_columns(row)) for row in table]
    names = list(dict.fromkeys(name for row in flat for name in row))
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([_cell(name) for name in names])
    writer.writerows([_cell(row.get(name)) for name in names] for row in flat)
    return out.getvalue()


def _columns(row: Mapping[str, Any], before: str = "") -> Iterable[tuple[str, Any]]:
    for name, value in row.items():
        if isinstance(value, Mapping):
            yield from _columns(value, f"{before}{name}.")
        else:
            yield f"{before}{name}", value


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        value = json.dumps(value)
    if isinstance(value, str):
        clean = value.replace("\0", "\ufffd")
        return f"'{clean}" if value.startswith(_FORMULA) else clean
    return value


def to_json(table: Sequence[Mapping[str, Any]]) -> str:
    """The table as a JSON list, one row a line, in ASCII."""
    return "[\n" + ",\n".join(json.dumps(row, allow_nan=False) for row in table) + "\n]\n"


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all. BadInput where that cannot be done.

    The text goes to a file beside it first, which then takes its place; what is no ordinary file (a pipe,
    a terminal) is written to as it is.
    """
    try:
        if path.exists() and not path.is_file():
            path.write_text(text, encoding="utf-8", newline="")
        else:
            replace_whole(path, text.encode("utf-8"))
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise BadInput(f"cannot write {path}: {reason}; check the path, the rights and the room") from error
