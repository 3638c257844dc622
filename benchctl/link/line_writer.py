"""Lines to a file from a thread of its own: a slow disk must not hold up the bench loop."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

CLOSE_PATIENCE_S = 5.0


class LineWriter:
    """Writes lines in their order to a new file; OSError where it cannot be made.

    A file that takes no more ends the writing, not the work: `failed` then says why. What was put is on its
    way to the disk as soon as the thread has nothing else to write.
    """

    def __init__(self, path: str) -> None:
        self.failed = ""
        self._closed = False
        self._file = Path(path).open("x", encoding="ascii")  # noqa: SIM115 - closed by the thread
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._work, name="recording", daemon=True)
        self._thread.start()

    def put(self, line: str) -> None:
        """Add a line, without its end; never waits."""
        if not (self._closed or self.failed):
            self._lines.put(line + "\n")

    def close(self) -> None:
        """Write what is left, and close the file; a disk that takes too long is left to itself."""
        if not self._closed:
            self._closed = True
            self._lines.put(None)
            self._thread.join(CLOSE_PATIENCE_S)

    def _work(self) -> None:
        while (line := self._lines.get()) is not None:
            self._try(line)
        try:
            self._file.close()
        except OSError as error:
            self._fail(error)

    def _try(self, line: str) -> None:
        if self.failed:
            return
        try:
            self._file.write(line)
            if self._lines.empty():
                self._file.flush()
        except OSError as error:
            self._fail(error)

    def _fail(self, error: OSError) -> None:
        self.failed = self.failed or error.strerror or str(error)
