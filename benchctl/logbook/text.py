"""The logbook in words and columns for a terminal. Every outside text goes through `printable`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from benchctl import units
from benchctl.logbook.lines import SEGMENT_CLOSED
from benchctl.logbook.reader import Logbook, SetAside
from benchctl.logbook.segments import Segment
from benchctl.models.json_values import as_number
from benchctl.units import printable

if TYPE_CHECKING:
    from benchctl.logbook.interrupted import Interrupted

_LIST_HEAD = ("No.", "Started", "Mark", "Min", "Useful turns", "Spin", "Wetted", "Ended")
_WETTED = {"answered": "yes", "unanswered": "no"}
_UNITS = (
    ("_n_m_turns", "N m turns"),
    ("_percent", "%"),
    ("_rpm", "rpm"),
    ("_deg", "deg"),
    ("_s", "s"),
    ("_h", "h"),
)
_KINDS = (
    ("_nm", units.TORQUE),
    ("_n", units.FORCE),
    ("_m", units.LENGTH),
    ("_kg", units.MASS),
    ("_pa", units.PRESSURE),
    ("_c", units.TEMPERATURE),
)
"""Endings of names whose values are shown in the units chosen."""
LEAST_SHOWN_M = 1e-4
"""Shorter lengths are depths, and shown in micrometres in any units."""


def columns(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines with each column as wide as its widest cell."""
    cells = [_plain_column(column) for column in zip(head, *rows, strict=True)]
    form = "  ".join(f"{{:<{max(map(len, column))}}}" for column in cells)
    return [form.format(*row).rstrip() for row in zip(*cells, strict=True)]


def _plain_column(column: Sequence[str]) -> Sequence[str]:
    """The cells made safe to show; each by itself only where one of them needs it."""
    whole = "".join(column)
    if whole.isascii() and whole.isprintable() and max(map(len, column)) <= 80:
        return column
    return [_plain(cell) for cell in column]


def _plain(cell: str) -> str:
    return cell if len(cell) <= 80 and cell.isascii() and cell.isprintable() else printable(cell)


def segment_list(found: Sequence[Segment]) -> list[str]:
    """One segment a line, oldest first; a star marks rehearsals on the simulated bench."""
    if not found:
        return ["No segment yet."]
    lines = columns(_LIST_HEAD, [_list_row(one) for one in found])
    return (
        [*lines, "* on a SIMULATED bench"]
        if any(one.end_fields.get("simulated") is True for one in found)
        else lines
    )


def _list_row(one: Segment) -> tuple[str, ...]:
    of = one.end_fields.get
    return (
        f"{one.number}*" if of("simulated") is True else str(one.number),
        one.started_at[:16].replace("T", " "),
        _whole(of("mark")),
        _fixed(as_number(of("polishing_s")), 1, 1 / 60),
        _fixed(as_number(of("useful_turns")), 0),
        _fixed(as_number(of("spin_ratio_mean")), 2),
        _WETTED.get(str(of("wet_down")), "-"),
        ended(one.end_fields),
    )


def ended(fields: Mapping[str, Any]) -> str:
    """How a segment ended, in a few words."""
    return str(fields.get("stop_reason") or fields.get("outcome") or "").replace("_", " ")


def _fixed(value: float | None, digits: int, factor: float = 1.0) -> str:
    return "-" if value is None else f"{value * factor:.{digits}f}"


def _whole(value: Any) -> str:
    return "-" if value is None else str(value)


def details(fields: Mapping[str, Any], indent: str = "", system: str = units.METRIC) -> list[str]:
    """One field a line: its name in words, its value in the units chosen, its unit from the name's ending."""
    lines: list[str] = []
    for name, value in fields.items():
        if value is None or value == "" or value in ([], {}):
            continue
        words, unit, value = _in_words(str(name), value, system)
        if isinstance(value, Mapping):
            lines += [f"{indent}{words}:", *details(value, indent + "  ", system)]
        elif isinstance(value, list) and any(isinstance(part, Mapping) for part in value):
            for number, part in enumerate(value, start=1):
                lines.append(f"{indent}{words} {number}:")
                lines += (
                    details(part, indent + "  ", system)
                    if isinstance(part, Mapping)
                    else [f"{indent}  {_say(part)}"]
                )
        else:
            lines.append(f"{indent}{words}: {_say(value)} {unit}".rstrip())
    return lines


def _in_words(name: str, value: Any, system: str) -> tuple[str, str, Any]:
    """A field's name in words, its unit, and its value in that unit."""
    for ending, unit in _UNITS:
        if name.endswith(ending):
            return _words(name, ending), unit, value
    for ending, kind in _KINDS:
        number = as_number(value)
        if name.endswith(ending) and number is not None:
            if kind is units.LENGTH and 0.0 < abs(number) < LEAST_SHOWN_M:
                return _words(name, ending), "um", number * 1e6
            return _words(name, ending), units.mark_of(kind, system), units.in_system(number, kind, system)
    return _words(name, ""), "", value


def _words(name: str, ending: str) -> str:
    return printable(name.removesuffix(ending).replace("_", " "))


def _say(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list):
        return ", ".join(_say(part) for part in value)
    return printable(str(value), 2000)


def health(book: Logbook, open_ones: Sequence[Interrupted]) -> list[str]:
    """What `verify` says: the counts, then what is damaged and where."""
    kinds: dict[str, int] = {}
    for entry in book.entries:
        kinds[entry.kind] = kinds.get(entry.kind, 0) + 1
    counts = ", ".join(
        f"{count} {printable(kind).replace('_', ' ')}" for kind, count in sorted(kinds.items())
    )
    lines = [f"{len(book.entries)} records: {counts or 'none'}."]
    if book.repeats:
        lines.append(
            f"{book.repeats} unfinished or double writes whose record is there whole; nothing is lost."
        )
    if open_ones:
        lines.append(f"{len(open_ones)} segments have a start and no end: running now, or interrupted.")
    if book.read_only_reason:
        lines.append(book.read_only_reason)
    lines += [f"line {one.line}: {one.reason}: {_glimpse(one)}" for one in book.damaged]
    lines += [f"line {one.line}: {one.reason}" for one in book.breaks]
    damage = len(book.damaged) + len(book.breaks)
    if damage:
        lines.append(f"Not sound: {damage} damaged places; nothing was changed.")
    elif book.sound:
        lines.append("Sound.")
    return lines


def health_facts(book: Logbook, open_ones: Sequence[Interrupted]) -> dict[str, Any]:
    """The same as `health`, for programs."""
    return {
        "sound": book.sound,
        "records": len(book.entries),
        "segments": sum(1 for _ in book.of_kind(*SEGMENT_CLOSED)),
        "open_segments": [one.segment for one in open_ones],
        "repeats": book.repeats,
        "newer_schema": book.newer_schema,
        "damaged": [{"line": one.line, "reason": one.reason} for one in book.damaged],
        "breaks": [{"line": one.line, "reason": one.reason} for one in book.breaks],
    }


def _glimpse(one: SetAside) -> str:
    return printable(one.text[:60].decode("ascii", "replace"), 60)
