"""The disk under the logbook: append, sync, lock. Nothing here rewrites a byte.

One append is one `os.write` and one sync. On macOS `fsync` leaves data in the drive's cache and
`F_FULLFSYNC` does not (stated in Apple's fsync manual page; from memory).
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable
from pathlib import Path

from benchctl.errors import LogbookError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

_NOFOLLOW = getattr(os, "O_NOFOLLOW", 0)
_CLOEXEC = getattr(os, "O_CLOEXEC", 0)
_BINARY = getattr(os, "O_BINARY", 0)
LEAST_FREE_BYTES = 50_000_000
"""Below this no segment is begun (a choice: fifty segments' worth of trace)."""


def sync(descriptor: int) -> None:
    """Return when what was written is on the medium, as far as the system can promise."""
    full_sync = None if sys.platform == "win32" else getattr(fcntl, "F_FULLFSYNC", None)
    if full_sync is not None:
        with contextlib.suppress(OSError):  # some network drives do not know it
            fcntl.fcntl(descriptor, full_sync)
            return
    os.fsync(descriptor)


def make_folder(folder: Path) -> None:
    """Make a folder for its owner only, and put its name on the medium. LogbookError where it cannot be."""
    if folder.is_dir():
        return
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise LogbookError(f"cannot make the logbook's folder {folder}: {_why(error)}") from error
    _sync_folder(folder.parent)


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return
    with contextlib.suppress(OSError):  # some file systems cannot sync a folder
        descriptor = os.open(folder, os.O_RDONLY | _CLOEXEC)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _why(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


class AppendFile:
    """A file that only grows. `write` and `sync` may be replaced to play a failing disk.

    Raises LogbookError for a symbolic link, a missing right, a full disk; after a failure the next
    append begins on a new line, so that a fragment costs itself and nothing else. With `cut_back`
    (never for the logbook itself) the fragment is cut off again instead.
    """

    def __init__(
        self,
        path: Path,
        *,
        cut_back: bool = False,
        write: Callable[[int, bytes], int] = os.write,
        sync: Callable[[int], None] = sync,
    ) -> None:
        self.path = path
        self._write, self._sync = write, sync
        flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | _NOFOLLOW | _CLOEXEC | _BINARY
        existed = path.exists()
        try:
            self._descriptor = os.open(path, flags, 0o600)
        except OSError as error:
            raise LogbookError(f"cannot open {path} to write: {_why(error)}") from error
        if not existed:
            _sync_folder(path.parent)
        self._torn, self._cut_back = False, cut_back

    @property
    def size(self) -> int:
        """Bytes in the file."""
        return os.fstat(self._descriptor).st_size

    def begin_on_new_line(self) -> None:
        """Put a newline before what is appended next."""
        self._torn = True

    def append(self, data: bytes, *, synced: bool = True) -> None:
        """Write all of `data` and sync it. LogbookError when that failed; it may be tried again."""
        rest = b"\n" + data if self._torn else data
        before = self.size if self._cut_back else 0
        self._torn = not self._cut_back
        try:
            while rest:
                written = self._write(self._descriptor, rest)
                if written <= 0:
                    raise OSError(0, "the disk took nothing")
                rest = rest[written:]
            if synced:
                self._sync(self._descriptor)
        except OSError as error:
            if self._cut_back:
                os.ftruncate(self._descriptor, before)
            raise LogbookError(f"cannot write to {self.path}: {_why(error)}") from error
        self._torn = False

    def sync(self) -> None:
        """Put what was appended without sync on the medium."""
        try:
            self._sync(self._descriptor)
        except OSError as error:
            raise LogbookError(f"cannot write to {self.path}: {_why(error)}") from error

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.close(self._descriptor)


class FolderLock:
    """Holds a logbook's folder against a second program; the system frees it when this program ends."""

    def __init__(self, folder: Path) -> None:
        path = folder / "logbook.lock"
        try:
            self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT | _NOFOLLOW | _CLOEXEC, 0o600)
        except OSError as error:
            raise LogbookError(f"cannot write in the logbook's folder {folder}: {_why(error)}") from error
        try:
            self._take()
        except OSError as error:
            os.close(self._descriptor)
            raise LogbookError(
                f"the logbook in {folder} is in use by another program; "
                "close that one first, or give another folder with --logbook"
            ) from error

    def _take(self) -> None:
        if sys.platform == "win32":
            msvcrt.locking(self._descriptor, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def release(self) -> None:
        with contextlib.suppress(OSError):
            os.close(self._descriptor)


def free_bytes(folder: Path) -> int | None:
    """Bytes this user may still write on the folder's disk; None where the system does not say."""
    if sys.platform == "win32":
        return None
    try:
        state = os.statvfs(folder)
    except OSError:
        return None
    return state.f_bavail * state.f_frsize


def why_no_segment(folder: Path) -> str | None:
    """One sentence when the disk has too little room for another segment, else None."""
    free = free_bytes(folder)
    if free is None or free >= LEAST_FREE_BYTES:
        return None
    return (
        f"only {free // 1_000_000} MB free where the logbook is kept ({folder}); "
        f"a segment needs {LEAST_FREE_BYTES // 1_000_000} MB: free some, or give another with --logbook"
    )
