"""The wire kept in a file, and played back: what a board said reaches the same link code once more.

One JSON object a line: `{"at_s": 12.345, "way": "in", "hex": "00..."}`; `way` is `in` for bytes from the
board and `out` for bytes to it; times are in seconds of the clock that the recorder was given.
"""

from __future__ import annotations

import json
from collections import deque
from pathlib import Path
from typing import NamedTuple

from benchctl.clock import Clock, SystemClock
from benchctl.errors import BadInput, LinkLost
from benchctl.link.transport import Transport

FLUSH_EVERY_S = 1.0


class Chunk(NamedTuple):
    """Some bytes on their way, and when."""

    at_s: float
    way: str
    data: bytes


class RecordingTransport:
    """A transport that keeps all that goes through it in a file."""

    def __init__(self, inner: Transport, path: str, clock: Clock | None = None) -> None:
        self._inner = inner
        self._clock = clock or SystemClock()
        self._start_s = self._flushed_s = self._clock.monotonic_s()
        try:
            self._file = Path(path).open("x", encoding="ascii")  # noqa: SIM115 - closed by close()
        except OSError as error:
            inner.close()
            reason = (error.strerror or "cannot be written").lower()
            raise BadInput(f"--record: {path}: {reason}; name a new file in a folder of yours") from error

    def read(self) -> bytes:
        """What has arrived; kept."""
        data = self._inner.read()
        self._keep("in", data)
        return data

    def write(self, data: bytes) -> None:
        """Send bytes; kept."""
        self._keep("out", data)
        self._inner.write(data)

    def close(self) -> None:
        """Give the inner transport back and close the file."""
        self._inner.close()
        self._file.close()

    def _keep(self, way: str, data: bytes) -> None:
        now_s = self._clock.monotonic_s()
        if data:
            line = {"at_s": round(now_s - self._start_s, 6), "way": way, "hex": data.hex()}
            self._file.write(json.dumps(line) + "\n")
        if now_s - self._flushed_s >= FLUSH_EVERY_S:
            self._flushed_s = now_s
            self._file.flush()


def read_recording(path: Path) -> list[Chunk]:
    """The chunks of a recording in order. BadInput names the line that cannot be read."""
    chunks = []
    try:
        lines = path.read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path}: cannot be read as a recording: {error}") from error
    for number, line in enumerate(lines, start=1):
        try:
            fields = json.loads(line)
            chunk = Chunk(float(fields["at_s"]), str(fields["way"]), bytes.fromhex(fields["hex"]))
        except (ValueError, KeyError, TypeError) as error:
            raise BadInput(
                f"{path}, line {number}: not a line of a recording; it is damaged there"
            ) from error
        chunks.append(chunk)
    return chunks


class ReplayTransport:
    """Plays what a board said, each chunk at its time; `now_s` is moved by whoever plays it."""

    def __init__(self, chunks: list[Chunk]) -> None:
        self._chunks = deque(chunk for chunk in chunks if chunk.way == "in")
        self._closed = False
        self.now_s = 0.0
        self.written: list[bytes] = []

    @property
    def over(self) -> bool:
        """Whether all has been played."""
        return not self._chunks

    def read(self) -> bytes:
        """What the board had said by `now_s`."""
        if self._closed:
            raise LinkLost("the recording was closed")
        said = []
        while self._chunks and self._chunks[0].at_s <= self.now_s:
            said.append(self._chunks.popleft().data)
        return b"".join(said)

    def write(self, data: bytes) -> None:
        """Kept in `written`; nobody answers."""
        if self._closed:
            raise LinkLost("the recording was closed")
        self.written.append(data)

    def close(self) -> None:
        """Give it back."""
        self._closed = True
