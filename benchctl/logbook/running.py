"""How far the running segment is, in a small file of its own that lives until the segment's end is kept.

A segment of 16 minutes makes some 200 of these lines; in the logbook they would bury the records.
The lines have the logbook's form, so damage shows; the last intact one is what a crash leaves.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path

from benchctl.errors import LogbookError
from benchctl.logbook import files
from benchctl.logbook.lines import Entry
from benchctl.logbook.reader import parse

FOLDER_NAME = "running"


def _path(folder: Path, segment_id: str) -> Path:
    return folder / FOLDER_NAME / f"{segment_id}.jsonl"


class RunningFile:
    """The progress of one segment. LogbookError when a line could not be written."""

    def __init__(
        self,
        folder: Path,
        segment_id: str,
        *,
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = files.sync,
    ) -> None:
        self.segment_id = segment_id
        path = _path(folder, segment_id)
        files.make_folder(path.parent)
        self._file = files.AppendFile(path, write=write, sync=sync)

    def append(self, line: bytes) -> None:
        self._file.append(line)

    def close(self) -> None:
        self._file.close()


def last_progress(folder: Path, segment_id: str) -> Entry | None:
    """The last intact line of a segment's progress, or None."""
    try:
        data = _path(folder, segment_id).read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise LogbookError(f"cannot read the progress of segment {segment_id}: {error.strerror}") from error
    entries = parse(data).entries
    return entries[-1] if entries else None


def remove(folder: Path, segment_id: str) -> None:
    """Forget a segment's progress, once its end or interruption is in the logbook."""
    with contextlib.suppress(OSError):
        _path(folder, segment_id).unlink()
