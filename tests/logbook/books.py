"""Small logbooks for the tests of this folder."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path

from benchctl.logbook.writer import LogbookWriter

AT = datetime(2026, 3, 1, 14, 2, 3, tzinfo=timezone(timedelta(hours=1)))


def tokens() -> object:
    """Ids that are the same in each run."""
    numbers = iter(range(1_000_000))
    return lambda: f"{next(numbers):06x}"


def write_notes(folder: Path, count: int, text: str = "note") -> list[str]:
    """A logbook of `count` notes; their ids."""
    writer = LogbookWriter(folder, token=tokens())  # type: ignore[arg-type]
    ids = [writer.append("note", {"text": f"{text} {i}"}, at=AT, mono_s=float(i)) for i in range(count)]
    writer.close()
    return ids
