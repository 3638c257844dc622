"""Lines that a person types, read beside what is going on; reading never holds it up."""

from __future__ import annotations

import queue
import threading
from typing import TextIO


class TypedLines:
    """Lines of a stream, in lower case and stripped. `ended` once no more will come."""

    def __init__(self, source: TextIO) -> None:
        self._lines: queue.Queue[str | None] = queue.Queue()
        self.ended = False
        threading.Thread(target=self._read, args=(source,), name="typed lines", daemon=True).start()

    def _read(self, source: TextIO) -> None:
        try:
            for line in source:
                self._lines.put(line.strip().lower())
        except (OSError, ValueError):
            pass  # the terminal has gone, or what came is no text
        self._lines.put(None)

    def take(self) -> list[str]:
        """What was typed since the last call; empty lines are left out."""
        found: list[str] = []
        while not self.ended:
            try:
                line = self._lines.get_nowait()
            except queue.Empty:
                break
            if line is None:
                self.ended = True
            elif line:
                found.append(line)
        return found
