"""The real main loop in a real MicroPython (Unix port) behind a pseudo-terminal, and a small host for it."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import shutil
import subprocess
import sys
import time
import tty
from pathlib import Path

from firmware_protocol import codec, frames, messages

ROOT = Path(__file__).parents[2]
TOKEN = 0xBEEF
RENEW_S = 0.05
"""Denser than a host's 0.15 s, since the computer that runs the tests may be busy."""


def micropython() -> str | None:
    """The Unix port, installed by the test extra beside this Python, or on the path."""
    beside = Path(sys.executable).with_name("micropython")
    return str(beside) if beside.exists() else shutil.which("micropython")


class UnixBoard:
    """A board process. Use as a context manager; `path` is the port for a host that opens it by name."""

    def __init__(self, folder: Path, reset_cause: int = 1) -> None:
        self.folder = folder
        self.orders_file = folder / "orders"
        self.orders_file.touch()
        self._orders: dict[str, int] = {}
        self._master, self._slave = pty.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        self.path = os.ttyname(self._slave)
        self.reader = frames.FrameReader()
        self.epoch = 0
        self.seq = 0
        self.status: messages.Status | None = None
        self.status_at = 0
        self.heard: list[tuple[object, ...]] = []
        program = micropython()
        assert program is not None
        places = f"{ROOT / 'tests/firmware_protocol/fake_board'}:{ROOT}"
        self.process = subprocess.Popen(
            [program, "-X", "heapsize=512k", "-m", "firmware_protocol.board.main"],
            stdin=self._master,
            stdout=self._master,
            stderr=subprocess.PIPE,
            cwd=folder,
            env={
                **os.environ,
                "MICROPYPATH": places,
                "FAKE_BOARD_ORDERS": str(self.orders_file),
                "FAKE_RESET_CAUSE": str(reset_cause),
            },
        )

    def __enter__(self) -> UnixBoard:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait(5)
        assert self.process.stderr is not None
        self.process.stderr.close()
        for end in (self._master, self._slave):
            with contextlib.suppress(OSError):
                os.close(end)

    def order(self, **orders: int) -> None:
        """Force pins of the fake: pedal=1, estop=1, sensor=0, weld=1, hang=1, load=900."""
        self._orders.update(orders)
        beside = self.orders_file.with_suffix(".new")
        beside.write_text("".join(f"{name} {value}\n" for name, value in self._orders.items()))
        beside.replace(self.orders_file)

    def truth(self) -> list[tuple[int, int, int]]:
        """What the fake bench saw: ms, table speed in 0.001 rpm, power, every 20 ms or so."""
        lines = (self.folder / "orders.truth").read_text().splitlines()
        rows = [tuple(map(int, line.split())) for line in lines]
        return [(row[0], row[1], row[2]) for row in rows if len(row) == 3]

    def write(self, data: bytes) -> None:
        """Raw bytes onto the cable."""
        os.write(self._slave, data)

    def send(self, message: tuple[object, ...]) -> None:
        """One framed message."""
        self.seq += 1
        self.write(frames.encode(codec.encode(message, self.epoch, self.seq, 0)))

    def listen(self, seconds: float, renew: bool = False) -> None:
        """Take what comes for some time; renew the permit if asked to."""
        until = time.monotonic() + seconds
        renew_at = time.monotonic()
        while time.monotonic() < until:
            if select.select([self._slave], [], [], 0.01)[0]:
                for payload in self.reader.feed(os.read(self._slave, 4096)):
                    self._take(payload)
            if renew and time.monotonic() >= renew_at:
                renew_at += RENEW_S
                self.send(messages.Renew(TOKEN, self.status_at))

    def ask(self, message: tuple[object, ...]) -> messages.Reply:
        """Send and wait for the reply, at most a second."""
        self.send(message)
        seq = self.seq
        for _ in range(50):
            self.listen(0.02)
            for heard in self.heard:
                if isinstance(heard, messages.Reply) and heard.to_seq == seq:
                    return heard
        raise AssertionError(f"no reply to {message}")

    def _take(self, payload: bytes) -> None:
        header, message = codec.decode(payload)
        self.epoch = header.epoch
        if isinstance(message, messages.Status):
            self.status = message
            self.status_at = header.t_ms
        elif message is not None:
            self.heard.append(message)

    def seen(self) -> messages.Status:
        """The newest status."""
        assert self.status is not None
        return self.status

    def listen_for_rest(self) -> None:
        """Until the board has seen the table at rest, at most 5 s."""
        for _ in range(50):
            self.listen(0.1)
            if self.status is not None and self.status.flags & messages.AT_REST:
                return
        raise AssertionError("the table did not come to rest")

    def commission(self) -> None:
        """Greet, and take the lock of a fresh board off."""
        self.listen_for_rest()
        hello = messages.Hello(messages.MAGIC, TOKEN, messages.VERSION, 0, messages.SCHEMA_HASH)
        assert self.ask(hello).refusal == 0
        if self.seen().flags & messages.SETTINGS_DAMAGED:
            assert self.ask(messages.WriteSetting(TOKEN, 16, 1, 0)).refusal == 0
            assert self.ask(messages.WriteSetting(TOKEN, 3, 10000, 45000)).refusal == 0
        self.listen(0.2)

    def start(self, target_mrpm: int, seconds: float, end_ms: int = 600000) -> None:
        """Arm, run, and turn for some seconds."""
        assert self.ask(messages.Arm(TOKEN, 45000, 850, 0)).refusal == 0
        self.listen(0.6)
        run = messages.Run(TOKEN, self.status_at, target_mrpm, end_ms, end_ms, 60000)
        assert self.ask(run).refusal == 0
        self.listen(seconds, renew=True)
