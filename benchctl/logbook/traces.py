"""The sensor trace of a segment, in a file of its own beside the logbook.

The first line says how the lap, the targets and the post stood and what the watcher knew of them; then one
line for each target of lap or table that passed and for each status of the board, in the order in which
they came. `benchctl watch` replays such a file to the same verdicts.
Lines are gathered and handed on about once a second, so that a trace costs one write a second.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from benchctl.logbook.segment_file import SegmentFile


def header_line(head: Mapping[str, Any]) -> str:
    """The first line of a trace: what the watcher knew of sensors and set-up when the segment began."""
    return _line(head)


def _line(fields: Mapping[str, Any]) -> str:
    return json.dumps(fields, allow_nan=False) + "\n"


class TraceGatherer:
    """Gathers a segment's trace lines; hands a batch to `deliver` every `every_s` of board time."""

    def __init__(self, header: str, deliver: Callable[[bytes], None], every_s: float = 1.0) -> None:
        self._lines = [header]
        self._deliver, self._every_s = deliver, every_s
        self._last_s: float | None = None

    def pulse(self, at_s: float) -> None:
        """A target on the lap passed its sensor at `at_s` (board time, seconds)."""
        self._add(at_s, f'{{"pulse_s": {round(at_s, 6)!r}}}\n')

    def table_pulse(self, at_s: float) -> None:
        """A target on the table passed its sensor at `at_s` (board time, seconds)."""
        self._add(at_s, f'{{"table_pulse_s": {round(at_s, 6)!r}}}\n')

    def status(self, at_s: float, set_rpm: float, table_rpm: float, load_percent: float | None) -> None:
        """The board reported: speed asked of the drive and measured (rpm), load in percent or None."""
        load = "null" if load_percent is None else repr(round(load_percent, 3))
        self._add(
            at_s,
            f'{{"status_s": {round(at_s, 6)!r}, "set_rpm": {round(set_rpm, 4)!r}, '
            f'"table_rpm": {round(table_rpm, 4)!r}, "load_percent": {load}}}\n',
        )

    def _add(self, at_s: float, line: str) -> None:
        self._lines.append(line)
        if self._last_s is None:
            self._last_s = at_s
        elif at_s - self._last_s >= self._every_s:
            self._last_s = at_s
            self.flush()

    def flush(self) -> None:
        """Hand on what has gathered."""
        if self._lines:
            batch = "".join(self._lines).encode("ascii")
            self._lines = []
            self._deliver(batch)


class TraceFile(SegmentFile):
    """The trace of one segment. After a failed append none of its lines is in the file."""

    folder_name = "traces"
    cut_back = True


def trace_path(folder: Path, segment_id: str) -> Path:
    """Where the trace of a segment lies; ValueError for a text that is not a record's id."""
    return TraceFile.path(folder, segment_id)
