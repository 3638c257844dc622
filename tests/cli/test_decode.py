"""`benchctl decode`: a capture, frame by frame."""

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
