"""Append records to a logbook: one line, one write, one sync, and only then it is kept."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from benchctl.errors import LogbookError
from benchctl.logbook import files, running
from benchctl.logbook.lines import CLOSES, FIRST_PREV, ID, Kind, encode
from benchctl.logbook.reader import FILE_NAME, read
from benchctl.logbook.running import RunningFile


def new_id(at: datetime, token: str) -> str:
    """A record's id: its wall time to the second and a random token, fit for a file name."""
    return f"{at:%Y%m%d-%H%M%S}-{token}"


class LogbookWriter:
    """The one writer of a folder's logbook; a second program is refused with LogbookError.

    `history` is the logbook as it was when opened. `program` is the name and version that is written
    with every record. `write` and `sync` may be replaced to play a failing disk.
    """

    def __init__(
        self,
        folder: Path,
        *,
        program: str = "benchctl",
        token: Callable[[], str] = lambda: secrets.token_hex(3),
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = files.sync,
    ) -> None:
        self.folder = folder
        self.program, self._token = program, token
        self._write, self._sync = write, sync
        self._running: RunningFile | None = None
        files.make_folder(folder)
        self._lock = files.FolderLock(folder)
        try:
            self._open()
        except BaseException:
            self._lock.release()
            raise

    def _open(self) -> None:
        self.history = read(self.folder, quick=True)
        if self.history.read_only_reason:
            raise LogbookError(self.history.read_only_reason)
        self._next_n, self._prev = self.history.next_n, self.history.last_crc
        self._file = files.AppendFile(self.folder / FILE_NAME, write=self._write, sync=self._sync)
        if not self.history.ends_on_line:
            self._file.begin_on_new_line()

    def new_id(self, at: datetime) -> str:
        """An id for a record that will be kept at wall time `at`."""
        return new_id(at, self._token())

    def append(
        self,
        kind: Kind,
        fields: Mapping[str, Any],
        *,
        at: datetime,
        mono_s: float,
        record_id: str | None = None,
    ) -> str:
        """Keep one record; when this returns its id, the record is on the medium.

        `at` is wall time with its offset, `mono_s` the monotonic clock in seconds. Raises LogbookError
        when it could not be kept: nothing already kept is touched, and the same call, with the same
        `record_id`, may be tried again until it succeeds.
        """
        identity = record_id or self.new_id(at)
        line, crc = encode(
            n=self._next_n,
            record_id=identity,
            kind=kind,
            at=at,
            mono_s=mono_s,
            program=self.program,
            prev=self._prev,
            fields=fields,
        )
        self._file.append(line)
        self._next_n, self._prev = self._next_n + 1, crc
        if kind in CLOSES and ID.fullmatch(begun := str(fields.get(CLOSES[kind]))):
            self._stop_running()
            running.remove(self.folder, begun)
        return identity

    def progress(self, segment_id: str, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> None:
        """Keep how far the running segment or press is, beside the logbook; LogbookError on failure."""
        line, _ = encode(
            n=1,
            record_id=segment_id,
            kind="segment_progress",
            at=at,
            mono_s=mono_s,
            program=self.program,
            prev=FIRST_PREV,
            fields=fields,
        )
        if self._running is None or self._running.segment_id != segment_id:
            self._stop_running()
            self._running = RunningFile(self.folder, segment_id, write=self._write, sync=self._sync)
        self._running.append(line)

    def _stop_running(self) -> None:
        if self._running is not None:
            self._running.close()
            self._running = None

    def close(self) -> None:
        """Let another program have the logbook. What was kept stays kept."""
        self._stop_running()
        self._file.close()
        self._lock.release()
