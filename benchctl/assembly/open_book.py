"""A logbook open to write by hand: records kept at the time they are told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from typing import Any

from benchctl.clock import SystemClock
from benchctl.logbook.lines import Kind
from benchctl.logbook.reader import Logbook
from benchctl.logbook.writer import LogbookWriter


class OpenBook:
    """What was in the logbook when it was opened, and a way to add to it."""

    def __init__(self, writer: LogbookWriter) -> None:
        self._writer = writer
        self._clock = SystemClock()

    @property
    def history(self) -> Logbook:
        return self._writer.history

    def keep(self, kind: Kind, fields: Mapping[str, Any]) -> str:
        """Keep one record; its id. LogbookError where the disk refuses."""
        return self._writer.append(kind, fields, at=self._clock.wall(), mono_s=self._clock.monotonic_s())


@contextmanager
def open_book(folder: Path) -> Iterator[OpenBook]:
    """The logbook in `folder`, made where there is none. LogbookError where another program has it open."""
    writer = LogbookWriter(folder, program=f"benchctl {metadata.version('benchctl')}")
    try:
        yield OpenBook(writer)
    finally:
        writer.close()
