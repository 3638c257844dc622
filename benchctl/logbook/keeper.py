"""Stands between the bench loop and a disk that may be slow, full or gone.

The bench loop hands records in and never waits: `keep` returns a ticket at once, and the ticket says
when the record is on the medium. While the disk refuses, records wait in memory in their order and are
tried again; a second folder may be offered. Threaded, a writer thread does the work; otherwise (simulated
time) each call does, and `poll` tries again what waits.
"""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from benchctl.errors import LogbookError
from benchctl.logbook.lines import SEGMENT_CLOSED, Kind, check_record
from benchctl.logbook.traces import TraceFile
from benchctl.logbook.writer import LogbookWriter

RETRY_EVERY_S = 10.0
PROGRESS_EVERY_S = 4.0
TRACE_LIMIT_BYTES = 8_000_000
"""How much trace may wait in memory for a disk that refuses: about eight segments' worth."""


class Ticket:
    """Says whether a record is on the medium yet. `record_id` is known at once."""

    def __init__(self, record_id: str) -> None:
        self.record_id = record_id
        self._kept = threading.Event()

    @property
    def kept(self) -> bool:
        return self._kept.is_set()

    def mark_kept(self) -> None:
        self._kept.set()

    def wait(self, timeout_s: float) -> bool:
        """Wait for it, at most `timeout_s`; True when kept. Not for the bench loop."""
        return self._kept.wait(timeout_s)


@dataclass(frozen=True)
class KeeperState:
    """`waiting` records are in memory only; `trouble` says why, in one sentence, or is None."""

    waiting: int
    trouble: str | None
    trace_bytes_dropped: int


@dataclass(frozen=True)
class _Task:
    do: Callable[[LogbookWriter], None]
    ticket: Ticket | None = None
    trace_bytes: int = 0


class RecordKeeper:
    """Keeps records through `writer` in the order they came; see the head of the module."""

    def __init__(
        self, writer: LogbookWriter, *, threaded: bool = True, retry_every_s: float = RETRY_EVERY_S
    ) -> None:
        self._writer, self._retry_every_s = writer, retry_every_s
        self._tasks: deque[_Task] = deque()
        self._trouble: str | None = None
        self._tried_s, self._progress_s = float("-inf"), float("-inf")
        self._trace: TraceFile | None = None
        self._trace_of, self._trace_head = "", b""
        self._records_in = self._records_out = 0  # each counted by one thread only
        self._trace_in = self._trace_out = self._trace_dropped = 0
        self._writing = threading.Lock()
        self._wake, self._hurry = threading.Event(), threading.Event()
        self._closing = False
        self._thread = threading.Thread(target=self._work, name="logbook", daemon=True) if threaded else None
        if self._thread is not None:
            self._thread.start()

    @property
    def folder(self) -> Path:
        return self._writer.folder

    @property
    def state(self) -> KeeperState:
        return KeeperState(self._records_in - self._records_out, self._trouble, self._trace_dropped)

    def keep(self, kind: Kind, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> Ticket:
        """Keep a record; the ticket says when it is on the medium. Never raises for the disk, never waits.

        ValueError or TypeError for a record that could never be written (see `lines.encode`).
        """
        ticket = Ticket(self._writer.new_id(at))
        own = dict(fields)
        check_record(kind, own, at)

        def do(writer: LogbookWriter) -> None:
            writer.append(kind, own, at=at, mono_s=mono_s, record_id=ticket.record_id)
            if kind in SEGMENT_CLOSED:
                self._end_trace()

        if kind == "segment_start":
            self._progress_s = float("-inf")
        self._records_in += 1
        self._take(_Task(do, ticket), mono_s)
        return ticket

    def progress(self, segment_id: str, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> None:
        """Tell how far the running segment is; call as often as you like, one in 4 s is written."""
        if mono_s - self._progress_s < PROGRESS_EVERY_S:
            return
        self._progress_s = mono_s
        own = dict(fields)
        check_record("segment_progress", own, at)
        self._take(_Task(lambda writer: writer.progress(segment_id, own, at=at, mono_s=mono_s)), mono_s)

    def trace(self, segment_id: str, batch: bytes, mono_s: float) -> None:
        """Append a batch of trace lines. While the disk refuses, what passes 8 MB is dropped and counted."""
        if self._trace_in - self._trace_out + len(batch) > TRACE_LIMIT_BYTES:
            self._trace_dropped += len(batch)
            return
        self._trace_in += len(batch)
        do = partial(self._append_trace, segment_id, batch)
        self._take(_Task(do, trace_bytes=len(batch)), mono_s)

    def _append_trace(self, segment_id: str, batch: bytes, writer: LogbookWriter) -> None:
        if self._trace is None or self._trace.segment_id != segment_id:
            self._end_trace()
            self._trace = TraceFile(writer.folder, segment_id)
        if self._trace.empty:
            batch = self._headed(segment_id, batch)
        self._trace.append(batch, synced=self._thread is not None)

    def _headed(self, segment_id: str, batch: bytes) -> bytes:
        """The first batch of a trace as it came; in another folder, the same head before what follows."""
        if segment_id == self._trace_of:
            return batch if batch.startswith(self._trace_head) else self._trace_head + batch
        self._trace_of, self._trace_head = segment_id, batch[: batch.find(b"\n") + 1]
        return batch

    def _end_trace(self) -> None:
        if self._trace is not None:
            trace, self._trace = self._trace, None
            with contextlib.suppress(LogbookError):  # its lines were taken; only the last sync failed
                trace.close()

    def _take(self, task: _Task, mono_s: float) -> None:
        self._tasks.append(task)
        if self._thread is not None:
            self._wake.set()
        else:
            self.poll(mono_s)

    def poll(self, mono_s: float) -> None:
        """Without a thread: try what waits, again every 10 s of `mono_s`. With one: does nothing."""
        if self._thread is None and (self._trouble is None or mono_s - self._tried_s >= self._retry_every_s):
            self._tried_s = mono_s
            self._drain()

    def try_again(self, mono_s: float) -> None:
        """Try at once what waits, without the wait between tries; the bench loop never waits for it."""
        if self._trouble is None:
            return
        if self._thread is not None:
            self._hurry.set()
        else:
            self._tried_s = mono_s
            self._drain()

    def _drain(self) -> bool:
        """Do the tasks in order until none is left (True) or the disk refuses (False)."""
        with self._writing:
            while self._tasks:
                task = self._tasks[0]
                try:
                    task.do(self._writer)
                except LogbookError as error:
                    self._trouble = str(error)
                    return False
                self._done(self._tasks.popleft())
            self._trouble = None
            return True

    def _done(self, task: _Task) -> None:
        self._trace_out += task.trace_bytes
        if task.ticket is not None:
            self._records_out += 1
            task.ticket.mark_kept()

    def _work(self) -> None:
        """The writer thread."""
        while not self._closing:
            if self._trouble is None:
                self._wake.wait()
            else:
                self._hurry.wait(self._retry_every_s)
            self._wake.clear()
            self._hurry.clear()
            self._drain()

    def move_to(self, folder: Path) -> bool:
        """Keep what waits, and all that follows, in another folder's logbook; True when nothing waits.

        LogbookError when that folder cannot be used; then nothing has changed. Not for the bench loop.
        """
        writer = LogbookWriter(folder, program=self._writer.program)
        with self._writing:
            self._end_trace()
            old, self._writer = self._writer, writer
        old.close()
        return self._drain()

    def close(self, timeout_s: float = 5.0) -> int:
        """Try once more, then stop; returns how many records could not be kept."""
        self._closing = True
        self._wake.set()
        self._hurry.set()
        if self._thread is not None:
            self._thread.join(timeout_s)
            if self._thread.is_alive():
                return self.state.waiting
        self._drain()
        self._end_trace()
        self._writer.close()
        return self.state.waiting
