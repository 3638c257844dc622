"""How far the running segment is, in a small file of its own that lives until the segment's end is kept.

A segment of 16 minutes makes some 200 of these lines; in the logbook they would bury the records.
The lines have the logbook's form, so damage shows; the last intact one is what a crash leaves.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from pathlib import Path

from benchctl.errors import LogbookError
from benchctl.logbook.lines import Entry
from benchctl.logbook.reader import parse
from benchctl.logbook.segment_file import SegmentFile


class RunningFile(SegmentFile):
    """The progress of one segment or press."""

    folder_name = "running"


def last_progress(folder: Path, segment_id: str) -> Entry | None:
    """The last intact line of a segment's progress, or None."""
    try:
        data = RunningFile.path(folder, segment_id).read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise LogbookError(f"cannot read the progress of segment {segment_id}: {error.strerror}") from error
    entries = parse(data).entries
    return entries[-1] if entries else None


def without_end(starts: Iterable[Entry], ends: Iterable[Entry], key: str) -> list[Entry]:
    """The starts that no end names under `key`, in their order: what was running when the program died."""
    ended = {str(end.fields.get(key)) for end in ends}
    return [start for start in starts if start.id not in ended]


def remove(folder: Path, segment_id: str) -> None:
    """Forget a segment's progress, once its end or interruption is in the logbook."""
    with contextlib.suppress(OSError):
        RunningFile.path(folder, segment_id).unlink()
