"""How much the screen costs: share of a core and bytes to the terminal in steady polishing at 80x24.

Run by hand: `python -m tests.benchmarks.screen_load [SECONDS]`. The simulated bench runs in a process of its
own behind its port, the whole program on a pseudo-terminal; both in life's time. Prints what was measured.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
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
            [sys.executable, "-m", "tests.benchmarks.timed_renewals", f"{home}/renewals", *arguments],
            stdin=slave, stdout=slave, stderr=slave,
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


def key_to_effect_s(screen: Screen) -> float:
    """From the key that opens the page of keys to its words on the terminal, in seconds."""
    screen.press(b"b")
    screen.read_for(0.35)
    begun_s = time.monotonic()
    screen.press(b"?")
    assert screen.read_for(3.0, b"everywhere")
    return time.monotonic() - begun_s


def resize(screen: Screen, rows: int, columns: int) -> None:
    """Make the terminal another size."""
    size = rows.to_bytes(2, "little") + columns.to_bytes(2, "little") + bytes(4)
    fcntl.ioctl(screen.master, termios.TIOCSWINSZ, size)
    screen.process.send_signal(signal.SIGWINCH)


def flood(screen: Screen, seconds: float) -> None:
    """Resizes ten times a second and a key held down, for a while."""
    end = time.monotonic() + seconds
    turn = 0
    while time.monotonic() < end:
        turn += 1
        resize(screen, 24 + turn % 3 * 8, 80 + turn % 5 * 10)
        screen.press(b"bbb")
        screen.read_for(0.1)
    resize(screen, 24, 80)


def fresh_page(screen: Screen) -> bytes:
    """What is drawn after a change of place and back."""
    screen.press(b"5")
    screen.read_for(0.5)
    screen.press(b"2")
    screen.read_for(0.5)
    return screen.tail


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
            for _ in range(2):
                screen.press(b"a")
                screen.read_for(1.5)
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
            late = sorted(key_to_effect_s(screen) for _ in range(40))
            print(f"key to effect: median {1000 * late[20]:.0f} ms, 95 % {1000 * late[37]:.0f} ms")
            flood(screen, seconds / 2)
            print(f"still polishing after the flood: {polishing[0].encode() in fresh_page(screen)}")
        finally:
            screen.press(b" ")
            screen.read_for(5.0)
            screen.process.terminate()
            screen.process.wait(20)
            bench.terminate()
            bench.wait(10)
            print(f"renewals of the run permit: {Path(home, 'renewals').read_text()}")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 30.0)
