"""How much the screen costs: share of a core and bytes to the terminal in steady polishing at 80x24.

Run by hand: `python -m tests.benchmarks.screen_load [SECONDS]`. The simulated bench runs in a process of its
own behind its port, the whole program on a pseudo-terminal; both in life's time. Prints what was measured.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

from benchctl.tui.blocks import letters

TICKS = os.sysconf("SC_CLK_TCK")


def cpu_s(pid: int) -> float:
    """Processor time of a process so far, in seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


class Screen:
    """The program on a pseudo-terminal of 80x24."""

    def __init__(self, arguments: list[str], home: str) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, b"\x18\x00\x50\x00\x00\x00\x00\x00")
        self.begun_s = time.monotonic()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchctl", *arguments], stdin=slave, stdout=slave, stderr=slave,
            env={**os.environ, "BENCHCTL_HOME": home, "TERM": "xterm-256color"}, start_new_session=True,
        )  # fmt: skip
        os.close(slave)
        self.bytes = 0
        self.tail = b""

    def read_for(self, seconds: float, until: bytes = b"") -> bool:
        """Read for a time, or until some words have come."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.master], [], [], min(left, 0.2))[0]:
                data = os.read(self.master, 65536)
                self.bytes += len(data)
                self.tail = (self.tail + data)[-20000:]
                if until and until in self.tail:
                    return True
        return False

    def press(self, key: bytes) -> None:
        """Press a key."""
        self.tail = b""
        os.write(self.master, key)


def main(seconds: float) -> None:
    """Measure one segment for a while and print the figures."""
    with tempfile.TemporaryDirectory() as home:
        link = f"{home}/port"
        bench = subprocess.Popen([sys.executable, "-m", "benchctl", "simulate", "--link", link])
        while not Path(link).exists():
            time.sleep(0.1)
        screen = Screen(["run", "demo", "--port", link], home)
        try:
            screen.read_for(10.0, b"SPACE = STOP")
            print(f"first screen after {time.monotonic() - screen.begun_s:.2f} s")
            screen.read_for(3.0)
            screen.press(b"a")
            screen.read_for(5.0, b"armed, then")
            screen.read_for(1.0)
            screen.press(b"r")
            polishing = letters("POLISHING")
            assert polishing is not None
            assert screen.read_for(240.0, polishing[0].encode()), "did not come to polish"
            screen.read_for(5.0)
            bytes_0, cpu_0, at_0 = screen.bytes, cpu_s(screen.process.pid), time.monotonic()
            screen.read_for(seconds)
            spent_s = time.monotonic() - at_0
            print(f"program: {100 * (cpu_s(screen.process.pid) - cpu_0) / spent_s:.1f} % of one core")
            print(f"terminal: {(screen.bytes - bytes_0) / spent_s / 1024:.2f} KiB/s")
        finally:
            screen.press(b" ")
            screen.read_for(5.0)
            screen.process.terminate()
            screen.process.wait(20)
            bench.terminate()
            bench.wait(10)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 30.0)
