"""The wire kept in a file and played back: exactly, and without ever standing in the way of the work."""

from __future__ import annotations

import errno
import json
import threading
from io import TextIOWrapper
from pathlib import Path
from typing import TextIO, cast

import pytest

from benchctl.clock import SteppedClock
from benchctl.errors import BadInput, LinkLost
from benchctl.link.board import BoardLink
from benchctl.link.recording import (
    Chunk,
    RecordingTransport,
    ReplayTransport,
    ended_early,
    play,
    read_recording,
)
from benchctl.models.readings import Lost, Reading, Refused
from tests.link.ideal_board import OWNER, IdealBoard, Session


class Recorded:
    """A session whose cable is recorded on the session's own time."""

    def __init__(self, path: Path, board: IdealBoard | None = None) -> None:
        self.board = board or IdealBoard()
        self.clock = SteppedClock()
        self.path = path
        self.transport = RecordingTransport(self.board.cable.host, str(path), self.clock)
        self.session = Session(self.board, transport=self.transport)
        step = self.session.step

        def with_clock() -> list[Reading]:
            self.clock.now_s = self.session.now_s + self.session.step_s
            return step()

        self.session.step = with_clock  # type: ignore[method-assign]

    def whole_story(self) -> list[Reading]:
        """A segment with noise, a stop, a loss and a cable that comes back; what was heard of the board."""
        session = self.session
        session.start(12.0, 4.0)
        self.board.cable.faults.flip = 0.001
        session.live(5.0)
        session.link.set_speed(session.now_s, 90.0)
        session.live(1.0)
        self.board.cable.faults.flip = 0.0
        self.board.cable.pull_out()
        session.live(2.0)
        self.board.cable.unplugged = False
        session.live(2.0)
        self.board.silent = True
        session.live(1.5)
        self.board.silent = False
        session.live(1.0)
        session.link.stop(session.now_s, False, "person")
        session.live(1.0)
        self.transport.close()
        own = ("no_answer", "settings_unknown", "out_of_range")
        return [r for r in session.heard if not (isinstance(r, Refused) and r.why in own)]


def test_a_replay_is_exact(tmp_path: Path) -> None:
    """Played back, a recording gives the very readings of the session, one by one: pulses, status, losses."""
    recorded = Recorded(tmp_path / "wire.jsonl")
    heard = recorded.whole_story()
    played = [reading for _, readings in play(read_recording(recorded.path)) for reading in readings]
    assert len(played) > 200
    assert [type(r).__name__ for r in played if isinstance(r, Lost)] == ["Lost", "Lost"]
    assert any(isinstance(r, Refused) and r.what == "set_speed" for r in played)
    assert played == heard


def test_a_replay_keeps_the_times(tmp_path: Path) -> None:
    """Each reading is played at the time at which it was heard."""
    recorded = Recorded(tmp_path / "wire.jsonl")
    session = recorded.session
    heard = []
    for _ in range(100):
        heard += [(round(session.now_s, 4), reading) for reading in session.step()]
    recorded.transport.close()
    played = [
        (round(now_s, 4), reading)
        for now_s, readings in play(read_recording(recorded.path))
        for reading in readings
    ]
    assert played == heard


def test_the_lines_of_a_recording(tmp_path: Path) -> None:
    """A JSON object a line: time from the recorder's start, way, bytes in hexadecimal; a loss with why."""
    clock, board = SteppedClock(100.0), IdealBoard()
    transport = RecordingTransport(board.cable.host, str(tmp_path / "wire"), clock)
    transport.write(b"\x00\x01")
    clock.now_s = 100.25
    assert transport.read() == b""
    board.cable.to_host.put(b"\xff\x00", 0.0)
    board.cable.now_s = 1.0
    assert transport.read() == b"\xff\x00"
    board.cable.pull_out()
    for _ in range(3):
        with pytest.raises(LinkLost):
            transport.read()
    transport.close()
    transport.close()
    lines = [json.loads(line) for line in (tmp_path / "wire").read_text().splitlines()]
    assert lines == [
        {"at_s": 0.0, "way": "out", "hex": "0001"},
        {"at_s": 0.25, "way": "in", "hex": "ff00"},
        {"at_s": 0.25, "way": "lost", "hex": "", "why": "the cable is out of the computer"},
    ]


def test_an_existing_file_is_not_overwritten(tmp_path: Path) -> None:
    """A recording goes to a new file only; the port is given back and the sentence says what to do."""
    path = tmp_path / "wire"
    path.write_text("mine")
    board = IdealBoard()
    with pytest.raises(BadInput, match="file exists; name a new file"):
        RecordingTransport(board.cable.host, str(path))
    assert path.read_text() == "mine"
    with pytest.raises(LinkLost):
        board.cable.host.read()


def test_a_full_disk_ends_the_recording_not_the_work(tmp_path: Path) -> None:
    """When the file takes no more, bytes go on passing both ways, nothing raises, and `failed` says why."""
    recorded = Recorded(tmp_path / "wire")
    recorded.session.live(0.3)
    lines = recorded.transport._lines
    lines._file = cast(TextIOWrapper, Full(lines._file))
    recorded.session.start(10.0, 1.0)
    assert recorded.board.state == "running"
    recorded.transport.close()
    assert ended_early(recorded.transport).endswith("before its time: No space left on device")
    assert ended_early(recorded.board.cable.host) == ""


def test_a_disk_that_hangs_holds_up_nothing(tmp_path: Path) -> None:
    """While the file takes its time the table is started and turned; nothing of it is missing in the end."""
    recorded = Recorded(tmp_path / "wire")
    lines = recorded.transport._lines
    slow = Slow(lines._file)
    lines._file = cast(TextIOWrapper, slow)
    recorded.session.start(10.0, 1.0)
    assert recorded.board.state == "running"
    assert slow.waits.wait(5.0)
    slow.goes_on.set()
    recorded.transport.close()
    assert ended_early(recorded.transport) == ""
    ways = [chunk.way for chunk in read_recording(recorded.path)]
    assert ways.count("in") > 20
    assert ways.count("out") > 10


class Slow:
    """A file on a disk that hangs until it is told to go on."""

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self.waits, self.goes_on = threading.Event(), threading.Event()

    def write(self, text: str) -> int:
        self.waits.set()
        self.goes_on.wait(20.0)
        return self._file.write(text)

    def flush(self) -> None:
        self._file.flush()

    def close(self) -> None:
        self._file.close()


class Full:
    """A file on a full disk."""

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, text: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    def close(self) -> None:
        self._file.close()
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_torn_last_line_is_left_out(tmp_path: Path) -> None:
    """A recording cut off at any byte gives all its whole lines."""
    recorded = Recorded(tmp_path / "wire")
    recorded.session.live(0.5)
    recorded.transport.close()
    whole = (tmp_path / "wire").read_bytes()
    for cut in range(0, len(whole), 7):
        (tmp_path / "cut").write_bytes(whole[:cut])
        assert len(read_recording(tmp_path / "cut")) == whole[:cut].count(b"\n")


@pytest.mark.parametrize(
    "line",
    [
        "hello",
        "[]",
        "{}",
        '{"at_s": 1.0, "way": "in", "hex": "0"}',
        '{"at_s": 1.0, "way": "up", "hex": "00"}',
        '{"at_s": -1.0, "way": "in", "hex": "00"}',
        '{"at_s": NaN, "way": "in", "hex": "00"}',
        '{"at_s": 1.0, "way": "in", "hex": 5}',
    ],
)
def test_a_damaged_line_is_named(line: str, tmp_path: Path) -> None:
    """A line that is none of a recording is refused with its number."""
    path = tmp_path / "wire"
    path.write_text('{"at_s": 0.5, "way": "in", "hex": "00"}\n' + line + "\n")
    with pytest.raises(BadInput, match=r"line 2: not a line of a recording"):
        read_recording(path)


def test_what_is_no_recording(tmp_path: Path) -> None:
    """A missing file and one that is no text are refused."""
    with pytest.raises(BadInput, match="cannot be read as a recording"):
        read_recording(tmp_path / "nowhere")
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\n")
    with pytest.raises(BadInput, match="cannot be read as a recording"):
        read_recording(tmp_path / "bytes")


def test_a_replay_swallows_what_is_written() -> None:
    """Nobody answers in a replay: what the link writes is kept, and lost where the cable was."""
    transport = ReplayTransport([Chunk(1.0, "lost", b"", "out"), Chunk(2.0, "in", b"\x01")])
    link = BoardLink(transport, OWNER)
    link.poll(0.0)
    assert len(transport.written) == 2
    transport.now_s = 1.0
    with pytest.raises(LinkLost, match="out"):
        transport.read()
    with pytest.raises(LinkLost):
        transport.write(b"x")
    transport.now_s = 2.0
    assert transport.read() == b"\x01"
    assert transport.over
    transport.close()
    with pytest.raises(LinkLost):
        transport.read()
