"""The logbook as tables of an in-memory SQLite, rebuilt at each question; the file stays plain text.

Only reading is allowed: an authorizer refuses every statement that could write, attach a file or change a
setting (see `sqlite3.Connection.set_authorizer`).
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.export import WHATS, What, rows
from benchctl.logbook.reader import Logbook

_ALLOWED = {
    sqlite3.SQLITE_SELECT,
    sqlite3.SQLITE_READ,
    sqlite3.SQLITE_FUNCTION,
    sqlite3.SQLITE_RECURSIVE,
}
_LEAST_COLUMNS = {
    "segments": (
        "segment_number",
        "id",
        "started_at",
        "ended_at",
        "outcome",
        "stop_reason",
        "polishing_s",
        "mark",
    ),
    "zones": ("inspection", "at", "segment", "zone", "grey", "pits_mean", "pits_too_many", "laser_spot"),
    "blemishes": ("inspection", "at", "kind", "angle_deg", "radius_m"),
    "records": ("n", "id", "kind", "at", "mono_s", "program"),
}
"""Columns that are there even in an empty logbook, so that no question is refused for want of records."""


def connect(book: Logbook, tables: Sequence[What] = WHATS) -> sqlite3.Connection:
    """A connection with the tables asked for; nested values are JSON text."""
    connection = sqlite3.connect(":memory:")
    for what in tables:
        _load(connection, what, rows(book, what))
    connection.set_authorizer(_authorize)
    return connection


def _authorize(action: int, *_names: str | None) -> int:
    return sqlite3.SQLITE_OK if action in _ALLOWED else sqlite3.SQLITE_DENY


def _load(connection: sqlite3.Connection, name: str, table: Sequence[Mapping[str, Any]]) -> None:
    seen: dict[str, str] = {}
    for column in (*_LEAST_COLUMNS[name], *(column for row in table for column in row)):
        seen.setdefault(column.lower(), column)
    columns = list(seen.values())[:2000]
    quoted = ", ".join('"' + column.replace('"', '""').replace("\0", "") + '"' for column in columns)
    connection.execute(f"CREATE TABLE {name} ({quoted})")
    places = ", ".join("?" * len(columns))
    values = ([_value(row.get(column)) for column in columns] for row in table)
    connection.executemany(f"INSERT INTO {name} VALUES ({places})", values)


def _value(value: Any) -> Any:
    if isinstance(value, int) and not -(2**63) <= value < 2**63:
        return float(value)
    return json.dumps(value) if isinstance(value, list | dict) else value


def ask(book: Logbook, statement: str) -> list[dict[str, Any]]:
    """The rows a SELECT gives, by column. BadInput for anything else, with SQLite's own words."""
    named = [what for what in WHATS if what in statement.lower()]
    connection = connect(book, named)
    try:
        found = connection.execute(statement)
        names = [column[0] for column in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
    except (sqlite3.Error, sqlite3.Warning) as error:
        raise BadInput(
            f"SQL refused: {error}; write one SELECT over the tables {', '.join(WHATS)}"
        ) from error
    finally:
        connection.close()
