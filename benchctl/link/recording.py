"""The wire kept in a file, and played back: what a board said reaches the same link code once more.

One JSON object a line: `{"at_s": 12.345, "way": "in", "hex": "00..."}`; `way` is `in` for bytes from the
board, `out` for bytes to it, `lost` where the cable failed (then `hex` is empty and `why` says why). Times
are in seconds of the clock that the recorder was given. A segment tells besides what it was begun with
(`session`) and what each of its steps took (`step`); see benchctl.session.recorded. The last line of a
recording that was cut off may be torn and is left out.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from benchctl.clock import Clock, SystemClock
from benchctl.errors import BadInput, LinkLost
from benchctl.link.board import BoardLink
from benchctl.link.line_writer import LineWriter
from benchctl.link.transport import Transport
from benchctl.models.readings import Reading

WIRE, TOLD = ("in", "out", "lost"), ("session", "step")
PLAY_STEP_S = 0.05


class Chunk(NamedTuple):
    """Some bytes on their way, and when; or a failure of the cable, and why; or what a segment told."""

    at_s: float
    way: str
    data: bytes = b""
    why: str = ""
    told: dict[str, object] | None = None


class RecordingTransport:
    """A transport that keeps all that goes through it in a file.

    A file that can take no more ends the recording, not the work: `failed` then says why.
    """

    def __init__(self, inner: Transport, path: str, clock: Clock | None = None) -> None:
        self._inner = inner
        self._clock = clock or SystemClock()
        self._start_s = self._clock.monotonic_s()
        self._lost = ""
        try:
            self._lines = LineWriter(path)
        except OSError as error:
            inner.close()
            reason = (error.strerror or "cannot be written").lower()
            raise BadInput(f"--record: {path}: {reason}; name a new file in a folder of yours") from error

    @property
    def failed(self) -> str:
        """Why the recording ended before its time; empty where it did not."""
        return self._lines.failed

    def read(self) -> bytes:
        """What has arrived; kept."""
        try:
            data = self._inner.read()
        except LinkLost as error:
            self._keep_loss(str(error))
            raise
        if data or self._lost:
            self._lost = ""
            self._line({"way": "in", "hex": data.hex()})
        return data

    def write(self, data: bytes) -> None:
        """Send bytes; kept once they are sent."""
        try:
            self._inner.write(data)
        except LinkLost as error:
            self._keep_loss(str(error))
            raise
        self._line({"way": "out", "hex": data.hex()})

    def tell(self, way: str, told: dict[str, object]) -> None:
        """Keep what a segment was begun with (`session`), or what one of its steps took (`step`)."""
        self._line({"way": way, **told})

    def close(self) -> None:
        """Give the inner transport back and close the file."""
        self._inner.close()
        self._lines.close()

    def _keep_loss(self, why: str) -> None:
        if why != self._lost:
            self._lost = why
            self._line({"way": "lost", "hex": "", "why": why})

    def _line(self, fields: dict[str, object]) -> None:
        at_s = round(self._clock.monotonic_s() - self._start_s, 6)
        self._lines.put(json.dumps({"at_s": at_s, **fields}))


def ended_early(transport: Transport) -> str:
    """A sentence where a recording ended before its time; empty where it did not, or where none is made."""
    failed = transport.failed if isinstance(transport, RecordingTransport) else ""
    return f"the recording ended before its time: {failed}" if failed else ""


def read_recording(path: Path) -> list[Chunk]:
    """The chunks of a recording in order. BadInput names the line that cannot be read."""
    try:
        lines = path.read_text(encoding="ascii").split("\n")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"{path}: cannot be read as a recording: {error}; name one of --record") from error
    lines.pop()
    return [parse_line(line, f"{path}, line {number}") for number, line in enumerate(lines, start=1)]


def parse_line(line: str | bytes, where: str) -> Chunk:
    """One line of a recording. BadInput with `where` when it is none."""
    try:
        fields = json.loads(line)
        at_s, way = float(fields.pop("at_s")), str(fields.pop("way"))
        if way in TOLD:
            chunk = Chunk(at_s, way, told=fields)
        else:
            chunk = Chunk(at_s, way, bytes.fromhex(fields["hex"]), str(fields.get("why", "")))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise BadInput(f"{where}: not a line of a recording; it is damaged there") from error
    if way not in WIRE + TOLD or not 0.0 <= chunk.at_s < float("inf"):
        raise BadInput(f"{where}: not a line of a recording: way or time is none; it is damaged there")
    return chunk


class ReplayTransport:
    """Plays what a board said, each chunk at its time; `now_s` is moved by whoever plays it."""

    def __init__(self, chunks: list[Chunk]) -> None:
        self._chunks = deque(chunk for chunk in chunks if chunk.way in ("in", "lost"))
        self._lost = ""
        self._closed = False
        self.now_s = 0.0
        self.written: list[bytes] = []

    @property
    def over(self) -> bool:
        """Whether all has been played."""
        return not self._chunks

    def next_s(self) -> float | None:
        """When the next chunk comes; None when all has been played."""
        return self._chunks[0].at_s if self._chunks else None

    def read(self) -> bytes:
        """What the board had said by `now_s`; LinkLost from where the cable failed to where it came back."""
        self._check()
        said = b""
        while self._chunks and self._chunks[0].at_s <= self.now_s:
            if self._chunks[0].way == "lost" and said:
                return said
            chunk = self._chunks.popleft()
            self._lost = chunk.why or "the cable failed here" if chunk.way == "lost" else ""
            said += chunk.data
        if self._lost:
            raise LinkLost(self._lost)
        return said

    def write(self, data: bytes) -> None:
        """Kept in `written`; nobody answers."""
        self._check()
        if self._lost:
            raise LinkLost(self._lost)
        self.written.append(data)

    def close(self) -> None:
        """Give it back."""
        self._closed = True

    def _check(self) -> None:
        if self._closed:
            raise LinkLost("the recording was closed")


def play(chunks: list[Chunk], step_s: float = PLAY_STEP_S) -> Iterator[tuple[float, list[Reading]]]:
    """A recording through the link's own code: time and readings at each moment that bytes came.

    Between them a step every `step_s`, so that silence is noticed as it was. The readings are those of the
    recorded session, in its order; only refusals that the session's own program gave are not among them.
    """
    transport = ReplayTransport(chunks)
    link = BoardLink(transport, owner=0, listen_only=True)
    while (next_s := transport.next_s()) is not None:
        transport.now_s = min(next_s, transport.now_s + step_s)
        yield transport.now_s, link.poll(transport.now_s)
