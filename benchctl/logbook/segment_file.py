"""A file of one segment's own, in a folder beside the logbook: its progress while it runs, its trace."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

from benchctl.logbook import files
from benchctl.logbook.lines import ID


class SegmentFile:
    """Appends to one segment's file; made with its folder. LogbookError when that fails."""

    folder_name: ClassVar[str]
    cut_back: ClassVar[bool] = False
    """Whether a fragment is cut off again after a failed append (see `files.AppendFile`)."""

    def __init__(
        self,
        folder: Path,
        segment_id: str,
        *,
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = files.sync,
    ) -> None:
        self.segment_id = segment_id
        path = self.path(folder, segment_id)
        files.make_folder(path.parent)
        self._file = files.AppendFile(path, cut_back=self.cut_back, write=write, sync=sync)
        self._synced = True

    @classmethod
    def path(cls, folder: Path, segment_id: str) -> Path:
        """Where it lies; ValueError for a text that is not a record's id."""
        if not ID.fullmatch(segment_id):
            raise ValueError(f"{segment_id!r} is not a record id")
        return folder / cls.folder_name / f"{segment_id}.jsonl"

    @property
    def empty(self) -> bool:
        """Whether nothing has been appended yet."""
        return self._file.size == 0

    def append(self, lines: bytes, *, synced: bool = True) -> None:
        """Append whole lines; unsynced, they are on the medium only after `close`."""
        self._file.append(lines, synced=synced)
        self._synced = synced

    def close(self) -> None:
        """Put what was appended on the medium and close the file."""
        try:
            if not self._synced:
                self._file.sync()
        finally:
            self._file.close()
