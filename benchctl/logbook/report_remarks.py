"""What the report tells in words: notes, decisions, presses, what was said of a look, corrections."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchctl.logbook.reader import Logbook
from benchctl.logbook.report_glass import clean, day
from benchctl.logbook.text import ended
from benchctl.models.json_values import as_number
from benchctl.units import MASS, show

LAP_LIFTED = "lap lifted"
"""Why the program itself adds a correction: how long the lap stood is known after the segment's record."""


def remarks(book: Logbook, system: str) -> list[tuple[str, str, str]]:
    """Notes, decisions, presses, what was said of a look, and corrections, oldest first."""
    found = []
    for entry in book.of_kind(*_REMARKED):
        text = _REMARKED[entry.kind](entry.fields, system)
        if text:
            found.append((day(entry.at), clean(_REMARK_WORDS.get(entry.kind, entry.kind)), clean(text)))
    return found


def _noted(fields: Mapping[str, Any], system: str) -> str:
    care = f"lap {fields['lap_care']}: " if fields.get("lap_care") else ""
    return f"{care}{fields.get('text') or ''}"


def _decided(fields: Mapping[str, Any], system: str) -> str:
    why = f" ({fields['why']})" if fields.get("why") else ""
    advised = f"; advised was: {fields['advised']}" if fields.get("advised") else ""
    return f"{fields.get('decision') or ''}{why}{advised}"


def _pressed(fields: Mapping[str, Any], system: str) -> str:
    minutes, load = as_number(fields.get("length_s")), as_number(fields.get("load_kg"))
    at = "" if load is None else f" at {show(load, MASS, system)}"
    return f"{'--' if minutes is None else format(minutes / 60, '.0f')} min{at}, {ended(fields)}".rstrip(", ")


def _looked(fields: Mapping[str, Any], system: str) -> str:
    return str(fields.get("note") or "")


def _corrected(fields: Mapping[str, Any], system: str) -> str:
    if fields.get("why") == LAP_LIFTED:
        return ""
    changed = [f"{key}: {value}" for key, value in fields.items() if key not in ("corrects", "why")]
    return f"{', '.join(changed)} ({fields.get('why', '')})"


_REMARKED: dict[str, Callable[[Mapping[str, Any], str], str]] = {
    "note": _noted,
    "decision": _decided,
    "press": _pressed,
    "inspection": _looked,
    "correction": _corrected,
}
_REMARK_WORDS = {"inspection": "look", "press": "cold press"}
