"""`benchctl decode`: a capture, frame by frame, and a recorded segment run again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from firmware_protocol import codec, frames, messages
from firmware_protocol import reasons as r
from tests.cli.served import Shell, one_sentence

STOP = frames.encode(codec.encode(messages.Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP), 7, 1, 0))
REPLY = frames.encode(
    codec.encode(messages.Reply(messages.ARM, 7, 2, r.ESTOP_IS_OPEN, messages.DISARMED, 0), 7, 3, 1234)
)


@pytest.mark.parametrize("how", ["raw", "hex", "recording"])
def test_each_form_of_capture(shell: Shell, tmp_path: Path, how: str) -> None:
    """Raw bytes, hexadecimal text and a recording give a line for each frame, with names for the numbers."""
    path = tmp_path / "capture"
    if how == "raw":
        path.write_bytes(STOP + REPLY)
    elif how == "hex":
        path.write_text((STOP + REPLY).hex(" "))
    else:
        lines = [
            {"at_s": 0.1, "way": "out", "hex": STOP.hex()},
            {"at_s": 0.2, "way": "in", "hex": REPLY.hex()},
        ]
        path.write_text("".join(json.dumps(line) + "\n" for line in lines))
    assert shell.run("decode", str(path)) == 0
    stop, reply = [line for line in shell.out.splitlines() if line.strip()]
    assert "Stop" in stop
    assert "reason=host_stop" in stop
    assert "refusal=estop_is_open" in reply
    assert "state=disarmed" in reply


def test_a_damaged_frame_costs_itself_only(shell: Shell, tmp_path: Path) -> None:
    """A flipped bit is told as damage, and the frame after it is read."""
    damaged = bytearray(STOP)
    damaged[4] ^= 0x10
    (tmp_path / "capture").write_bytes(bytes(damaged) + REPLY)
    assert shell.run("decode", str(tmp_path / "capture")) == 0
    assert "damaged" in shell.out
    assert "Stop " not in shell.out
    assert "Reply " in shell.out


def test_from_standard_input(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """`-` reads the capture from standard input."""
    assert shell.run("decode", "-", typed=STOP.hex()) == 0
    assert "Stop" in shell.out


@pytest.mark.parametrize(
    ("content", "words"), [(b"00 1", "odd number"), (b'{"at_s": 0.1, "way": "in", "hex": "0g"}\n', "line 1")]
)
def test_refusals(shell: Shell, tmp_path: Path, content: bytes, words: str) -> None:
    """What is no capture is refused in one sentence that says where; exit 2."""
    (tmp_path / "capture").write_bytes(content)
    assert shell.run("decode", str(tmp_path / "capture")) == 2
    assert one_sentence(shell.err)
    assert words in shell.err


def test_no_file(shell: Shell, tmp_path: Path) -> None:
    """A file that is not there: exit 2 in one sentence."""
    assert shell.run("decode", str(tmp_path / "none")) == 2
    assert one_sentence(shell.err)


@pytest.fixture
def recorded(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A short segment of the simulated bench in which the lap stalls, recorded by the command line."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path / "home"))
    words = "run demo --headless --simulated --pace max --minutes 1.5 --mishap lap-stall@45 --json --record"
    assert shell.run(*words.split(), str(tmp_path / "wire")) == 3
    (tmp_path / "told").write_text(shell.out)
    return tmp_path / "wire"


def test_a_recorded_segment_runs_again(shell: Shell, recorded: Path) -> None:
    """`--replay --json` prints, line for line, what the recorded run printed; exit 0, as nothing differed."""
    assert shell.run("decode", str(recorded), "--replay", "--json") == 0
    assert shell.out == recorded.with_name("told").read_text()
    assert "Nothing differed" in shell.err


def test_a_replay_in_words(shell: Shell, recorded: Path) -> None:
    """`--replay` alone tells the events in words; without it the acts stand among the frames."""
    assert shell.run("decode", str(recorded), "--replay") == 0
    assert "The lap has stopped turning" in shell.out
    assert shell.run("decode", str(recorded)) == 0
    assert "-- the person: arm\n" in shell.out
    assert "-- the person: run\n" in shell.out


def test_a_replay_that_differs(shell: Shell, recorded: Path) -> None:
    """Where the program now does otherwise than the recorded one, it says where; exit 3."""
    recorded.write_text(recorded.read_text().replace('"acts": [["run", ""]]', '"face_ok": false'))
    assert shell.run("decode", str(recorded), "--replay") == 3
    assert "Then it differs: at " in shell.err


def test_what_cannot_be_replayed(shell: Shell, tmp_path: Path) -> None:
    """Bare bytes hold no segment, and --json goes with --replay only: one sentence each, exit 2."""
    (tmp_path / "capture").write_bytes(STOP)
    assert shell.run("decode", str(tmp_path / "capture"), "--replay") == 2
    assert one_sentence(shell.err)
    assert "holds no segment" in shell.err
    assert shell.run("decode", str(tmp_path / "capture"), "--json") == 2
    assert one_sentence(shell.err)
