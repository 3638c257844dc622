"""A transport that plays one recorded step after another, and compares what is written with what was.

Each step is the lines of a recording up to its `step` line: the board's bytes are read at the very step at
which they were read, and a cable that failed fails again. What is written must be, byte for byte, what was
written in that step; the first difference is kept in words.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from benchctl.errors import LinkLost
from benchctl.link.listing import listing
from benchctl.link.recording import Chunk


class RecordedSteps:
    """`begin` a step, let the link poll, `end` it. `difference` is empty as long as all was the same."""

    def __init__(self) -> None:
        self._lines: deque[Chunk] = deque()
        self._lost = ""
        self._now_s = 0.0
        self._closed = False
        self.sent: list[bytes] = []
        self.difference = ""
        self.written = 0
        """How many writes were as recorded."""

    def begin(self, now_s: float, chunks: Iterable[Chunk]) -> None:
        """The lines of the step that comes now."""
        self._now_s = now_s
        self._lines = deque(chunks)

    def end(self) -> None:
        """The step is over: whatever was written in it should have been written again."""
        for left in self._lines:
            if left.way == "out":
                self._differs(left.data, b"")

    def read(self) -> bytes:
        """The bytes of this step; LinkLost where the cable failed and until it came back."""
        if self._lines and self._lines[0].way == "in" and not self._closed:
            self._lost = ""
            return self._lines.popleft().data
        self._fail()
        return b""

    def write(self, data: bytes) -> None:
        """Compared with what was written; LinkLost where that failed."""
        self._fail()
        self.sent.append(data)
        recorded = self._lines.popleft().data if self._lines and self._lines[0].way == "out" else b""
        if recorded == data:
            self.written += 1
        else:
            self._differs(recorded, data)

    def close(self) -> None:
        """No more is read or written."""
        self._closed = True

    def _fail(self) -> None:
        if self._closed:
            raise LinkLost("the recording was closed")
        if self._lines and self._lines[0].way == "lost":
            self._lost = self._lines.popleft().why or "the cable failed here"
        if self._lost:
            raise LinkLost(self._lost)

    def _differs(self, recorded: bytes, now: bytes) -> None:
        self.difference = self.difference or (
            f"at {self._now_s:.3f} s the recorded program sent: {_words(recorded)}; this one: {_words(now)}"
        )


def _words(data: bytes) -> str:
    return " and ".join(listing([Chunk(-1.0, "", data)])) or "nothing"
