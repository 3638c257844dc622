"""However the screen ends, STOP goes out, the terminal is given back, and the exit status says what happened.

The screen runs in a process of its own on a pseudo-terminal; where there are none these tests skip.
"""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

pytestmark = pytest.mark.live

pty = pytest.importorskip("pty")
fcntl = pytest.importorskip("fcntl")
termios = pytest.importorskip("termios")

ROOT = Path(__file__).parent.parent.parent
ENTER_ALTERNATE, LEAVE_ALTERNATE, SHOW_CURSOR = b"\x1b[?1049h", b"\x1b[?1049l", b"\x1b[?25h"
"""DEC private modes 1049 and 25, as xterm's control sequences document them (from memory)."""


class Terminal:
    """The far end of a pseudo-terminal and the process that runs on it."""

    def __init__(self, process: subprocess.Popen[bytes], master: int) -> None:
        self.process = process
        self.master = master
        self.seen = b""

    def read_until(self, words: bytes, patience_s: float = 20.0) -> None:
        """Read until `words` have appeared."""
        tries = int(patience_s / 0.1)
        while words not in self.seen and tries:
            tries -= 1
            self.read_some(0.1)
        assert words in self.seen, self.seen[-2000:]

    def read_some(self, wait_s: float) -> bool:
        """Read what comes within `wait_s`; False at the end."""
        ready, _, _ = select.select([self.master], [], [], wait_s)
        if not ready:
            return True
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        self.seen += data
        return bool(data)

    def end(self) -> int:
        """Read to the end; the exit status."""
        for _ in range(200):
            if not self.read_some(0.1) or self.process.poll() is not None:
                break
        self.read_some(0.2)
        return self.process.wait(20)


@contextmanager
def screen(folder: Path, *arguments: str) -> Iterator[Terminal]:
    """The screen on a terminal of 80x24."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, b"\x18\x00\x50\x00\x00\x00\x00\x00")
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.tui.ending_driver", str(folder), *arguments],
        stdin=slave, stdout=slave, stderr=slave, cwd=ROOT, start_new_session=True,
        env={**os.environ, "TERM": "xterm-256color"},
        preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
    )  # fmt: skip
    os.close(slave)
    terminal = Terminal(process, master)
    try:
        yield terminal
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
        if terminal.master >= 0:
            os.close(master)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT], ids=lambda n: n.name)
def test_a_signal_stops_a_turning_table(tmp_path: Path, number: signal.Signals) -> None:
    """SIGTERM, SIGHUP and SIGINT: STOP, the terminal given back, exit status 3."""
    with screen(tmp_path, "polish") as terminal:
        terminal.read_until(b"SPACE = STOP")
        terminal.process.send_signal(number)
        assert terminal.end() == 3
        assert terminal.seen.count(ENTER_ALTERNATE) == 1
        assert terminal.seen.rindex(LEAVE_ALTERNATE) > terminal.seen.index(ENTER_ALTERNATE)
        assert SHOW_CURSOR in terminal.seen[terminal.seen.index(ENTER_ALTERNATE) :]
    assert (tmp_path / "done.txt").read_text().startswith("['stop'")


def test_a_signal_at_rest_is_no_fault(tmp_path: Path) -> None:
    """With the table at rest the same signal ends the screen with status 0."""
    with screen(tmp_path, "ready") as terminal:
        terminal.read_until(b"SPACE = STOP")
        terminal.process.send_signal(signal.SIGTERM)
        assert terminal.end() == 0


def test_a_closed_terminal_stops_the_table(tmp_path: Path) -> None:
    """If the window is closed or the line to it lost, STOP goes out."""
    with screen(tmp_path, "polish") as terminal:
        terminal.read_until(b"SPACE = STOP")
        os.close(terminal.master)
        terminal.master = -1
        assert terminal.process.wait(20) == 3
    assert (tmp_path / "done.txt").read_text().startswith("['stop'")


@pytest.mark.parametrize("where", ["page", "widget", "timer", "key"])
def test_a_defect_anywhere(tmp_path: Path, where: str) -> None:
    """An exception in the screen: STOP first, the terminal given back, a report kept and named."""
    with screen(tmp_path, "polish", where) as terminal:
        before = termios.tcgetattr(terminal.master)
        terminal.read_until(b"SPACE = STOP")
        assert termios.tcgetattr(terminal.master) != before
        for _ in range(20 if where == "key" else 0):
            os.write(terminal.master, b"b")
            terminal.read_some(0.05)
        assert terminal.end() == 1
        assert termios.tcgetattr(terminal.master) == before
        assert LEAVE_ALTERNATE in terminal.seen
        told = terminal.seen[terminal.seen.rindex(LEAVE_ALTERNATE) :].decode().replace("\r\n", "")
    reports = list(tmp_path.glob("crash-*.txt"))
    assert len(reports) == 1
    assert str(reports[0]) in told
    assert "planted defect" in reports[0].read_text()
    assert "Traceback" not in told
    assert (tmp_path / "done.txt").read_text().startswith("['stop'")


def test_quit_at_rest_leaves_no_trace(tmp_path: Path) -> None:
    """Q at rest: status 0, no report, the terminal as it was."""
    with screen(tmp_path, "ready") as terminal:
        terminal.read_until(b"SPACE = STOP")
        os.write(terminal.master, b"q")
        assert terminal.end() == 0
    assert list(tmp_path.glob("crash-*")) == []


@pytest.mark.parametrize("key", [b" ", b"\x1b"], ids=["space", "escape"])
def test_stop_by_its_key_on_a_real_terminal(tmp_path: Path, key: bytes) -> None:
    """The bytes of Space and of Escape alone are STOP."""
    with screen(tmp_path, "polish") as terminal:
        terminal.read_until(b"SPACE = STOP")
        os.write(terminal.master, key)
        terminal.read_until(b"lap standing on the glass")


def test_lines_end_like_the_screen(tmp_path: Path) -> None:
    """In line mode SIGTERM stops a turning table and gives status 3."""
    with screen(tmp_path, "polish", "plain") as terminal:
        terminal.read_until(b"POLISHING")
        terminal.process.send_signal(signal.SIGTERM)
        assert terminal.end() == 3
    assert (tmp_path / "done.txt").read_text().startswith("['stop'")


def test_lines_end_with_their_source(tmp_path: Path) -> None:
    """In line mode `quit`, or the end of the typed lines, stops the table first."""
    with screen(tmp_path, "polish", "plain") as terminal:
        terminal.read_until(b"POLISHING")
        os.write(terminal.master, b"quit\n")
        assert terminal.end() == 0
    assert (tmp_path / "done.txt").read_text().startswith("['stop'")
