"""The whole segment on a real terminal: the program in tmux, driven by keys, read as a person reads it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.tui.seen import stands_in_blocks

pytestmark = [
    pytest.mark.live,
    pytest.mark.terminal,
    pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed"),
]
LOOK_S = 0.15


class Tmux:
    """One session of tmux with the program as its only command."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self._socket = str(folder / "tmux")
        self._pause = threading.Event()
        command = [sys.executable, "-m", "benchctl", *arguments]
        exported = {
            "COLUMNS": "80",
            "LINES": "24",
        }  # as some shells do; a resize must be followed all the same
        environment = {
            **os.environ, **exported, "BENCHCTL_HOME": str(folder / "home"), "LC_ALL": "C.UTF-8"
        }  # fmt: skip
        subprocess.run(
            ["tmux", "-S", self._socket, "-u", "new-session", "-d", "-x", "80", "-y", "24", *command],
            check=True, env=environment, cwd=Path(__file__).parent.parent.parent,
        )  # fmt: skip

    def tmux(self, *words: str) -> str:
        """One command of tmux on this session."""
        done = subprocess.run(
            ["tmux", "-S", self._socket, *words], capture_output=True, text=True, check=False
        )
        return done.stdout

    def rows(self) -> list[str]:
        """What stands on the terminal now."""
        return self.tmux("capture-pane", "-p").splitlines()

    def press(self, *keys: str) -> None:
        """Press keys by their tmux names."""
        for key in keys:
            self.tmux("send-keys", key)

    def wait_for(self, seen: Callable[[list[str]], bool], what: str, patience_s: float = 60.0) -> list[str]:
        """The rows, once `seen` is true of them."""
        for _ in range(round(patience_s / LOOK_S)):
            rows = self.rows()
            if seen(rows):
                return rows
            self._pause.wait(LOOK_S)
        raise AssertionError(f"never seen: {what}\n" + "\n".join(self.rows()))

    def wait_words(self, words: str, patience_s: float = 60.0) -> list[str]:
        """The rows, once `words` stand in one of them."""
        return self.wait_for(lambda rows: any(words in line for line in rows), words, patience_s)

    def pause(self, seconds: float) -> None:
        """Let some time pass."""
        self._pause.wait(seconds)

    def end(self) -> None:
        """End the session."""
        self.tmux("kill-server")


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Tmux]:
    """A short demo segment on the simulated bench, faster than life."""
    session = Tmux(tmp_path, "run", "demo", "--simulated", "--pace", "max", "--minutes", "3")
    try:
        yield session
    finally:
        session.end()


def start(terminal: Tmux) -> None:
    """Arm, wait, run: two acts, two keys. A board that has just been connected refuses for a second."""
    terminal.wait_for(
        lambda rows: "A arm" in "".join(rows) and "NO BOARD YET" not in "".join(rows), "a board"
    )
    for _ in range(10):
        terminal.press("a")
        terminal.pause(1.0)
        if any("R run" in line for line in terminal.rows()):
            break
    terminal.wait_words("R run", 5.0)
    terminal.pause(0.8)
    terminal.press("r")
    terminal.wait_words("TABLE TURNS", 10.0)


def whole(rows: list[str]) -> bool:
    """Whether no word is cut off."""
    return not any("…" in line for line in rows)


def test_a_whole_segment(terminal: Tmux, tmp_path: Path) -> None:
    """From the start in two acts to the look at the glass and the record, at 80x24, no word cut off."""
    start(terminal)
    rows = terminal.wait_for(lambda rows: stands_in_blocks("POLISHING", rows), "POLISHING")
    assert whole(rows)
    assert "SIMULATED x" in rows[0]
    terminal.tmux("resize-window", "-x", "60", "-y", "16")
    small = terminal.wait_for(lambda rows: len(rows) <= 16 and "SPACE = STOP" in rows[-2], "60x16")
    assert whole(small)
    terminal.tmux("resize-window", "-x", "80", "-y", "24")
    rows = terminal.wait_words("≈ WATER")
    assert whole(rows)
    terminal.press("w")
    rows = terminal.wait_words("standing on the glass")
    assert whole(rows)
    terminal.press("l")
    terminal.wait_words("zone 1, inmost")
    for grey in "998899":
        terminal.press(grey, "Enter")
    terminal.press("e", "Enter")
    rows = terminal.wait_words("Kept in the logbook")
    assert any("completed" in line for line in rows)
    terminal.press("q")
    terminal.wait_for(lambda rows: not rows, "the end of the program", 15.0)
    kept = "".join(path.read_text() for path in (tmp_path / "home" / "rehearsal").glob("*.jsonl"))
    assert '"completed"' in kept
    assert '"inspection"' in kept


def test_stop_by_space(terminal: Tmux) -> None:
    """Space while the table turns: it stops, says so, and asks for water and the lap."""
    start(terminal)
    terminal.press("Space")
    rows = terminal.wait_words("Stopped by hand", 15.0)
    assert whole(rows)
    terminal.wait_words("standing on the glass", 30.0)
