"""A simulated bench in a process of its own behind a pseudo-terminal, and programs that drive it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from benchctl.models.job import demo_job_text

TAIL_BYTES = 1000


def quick_job(folder: Path) -> Path:
    """A job that reaches 35 rpm within half a minute."""
    text = demo_job_text()
    for old, new in (
        ('"6 rpm"\nstep', '"12 rpm"\nstep'),
        ('"14 rpm"', '"24 rpm"'),
        ('work_speed = "26 rpm"', 'work_speed = "35 rpm"'),
        ('"16 min"', '"60 s"'),
        ('wet_call = "60 s"', 'wet_call = "15 s"'),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "quick.toml"
    path.write_text(text)
    return path


class Stage:
    """A simulated bench in its own process; `seconds` is how long it lives at most."""

    def __init__(self, folder: Path, seconds: float = 200.0) -> None:
        self.folder = folder
        self.port = folder / "port"
        self.truth_file = folder / "truth.jsonl"
        self.job = quick_job(folder)
        words = ["--link", str(self.port), "--job", str(self.job), "--truth", str(self.truth_file)]
        self.bench = subprocess.Popen(
            [sys.executable, "-m", "benchctl", "simulate", *words, "--seconds", str(seconds)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        wait_for(self.port.exists, 30.0, "the simulated bench's port")

    def host(self, *words: str) -> subprocess.Popen[str]:
        """`benchctl run` on the port, told to start."""
        return subprocess.Popen(
            [*self._run(), "--start", "--json", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def look(self) -> subprocess.CompletedProcess[str]:
        """`benchctl run` on the port that nobody tells to start: it ends by itself."""
        return subprocess.run(
            self._run(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=150,
            check=False,
        )

    def _run(self) -> list[str]:
        job, port, log = str(self.job), str(self.port), str(self.folder / "log")
        return [
            *(sys.executable, "-m", "benchctl", "run", job),
            *("--headless", "--port", port, "--logbook", log),
        ]

    def truth(self) -> list[dict[str, object]]:
        """The truth so far; a last line that is being written is left out."""
        if not self.truth_file.exists():
            return []
        lines = self.truth_file.read_text().splitlines(keepends=True)
        return [json.loads(line) for line in lines if line.endswith("\n")]

    def last(self) -> dict[str, object]:
        """The last whole line of the truth; a table at rest before the first."""
        if self.truth_file.exists():
            with self.truth_file.open("rb") as file:
                file.seek(max(0, file.seek(0, os.SEEK_END) - TAIL_BYTES))
                lines = file.read().split(b"\n")[:-1]
            if lines and lines[-1].startswith(b"{"):
                last: dict[str, object] = json.loads(lines[-1])
                return last
        return {"at_s": 0.0, "table_rpm": 0.0, "board_state": "disarmed"}

    def rpm(self) -> float:
        """The table's true speed now."""
        return float(str(self.last()["table_rpm"]))

    def close(self) -> None:
        """End the bench; one that does not end in half a minute is killed."""
        self.bench.terminate()
        try:
            self.bench.wait(30)
        except subprocess.TimeoutExpired:
            self.bench.kill()
            self.bench.wait()


def wait_for(seen: Callable[[], bool], limit_s: float, what: str) -> None:
    """Wait until `seen()` is true; AssertionError after `limit_s`."""
    until = time.monotonic() + limit_s
    while not seen():
        assert time.monotonic() < until, f"waited too long for {what}"
        time.sleep(0.05)
