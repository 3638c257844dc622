"""A small host in a process of its own: `python -m tests.simulator.small_host PATH RPM`.

Opens the port, greets, arms, runs and renews until it is killed; says 'at speed' when the table is.
"""

from __future__ import annotations

import os
import sys
import time
import tty

from firmware_protocol import codec, frames, messages

TOKEN = 4711


class SmallHost:
    """The least that keeps a board running."""

    def __init__(self, path: str) -> None:
        self.port = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.port)
        self.frames = frames.FrameReader()
        self.seq = self.epoch = self.status_ms = 0
        self.status: messages.Status | None = None

    def say(self, message: tuple[object, ...]) -> None:
        self.seq += 1
        os.write(self.port, frames.encode(codec.encode(message, self.epoch, self.seq, 0)))

    def hear(self) -> None:
        try:
            data = os.read(self.port, 4096)
        except BlockingIOError:
            return
        for payload in self.frames.feed(data):
            header, message = codec.decode(payload)
            self.epoch = header.epoch
            if isinstance(message, messages.Status):
                self.status, self.status_ms = message, header.t_ms

    def wait(self, seconds: float) -> None:
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            self.hear()
            time.sleep(0.005)

    def start(self, rpm: float) -> None:
        while self.status is None or not self.status.flags & messages.AT_REST:
            self.wait(0.1)
        self.say(messages.Hello(messages.MAGIC, TOKEN, messages.VERSION, 0, codec.SCHEMA_HASH))
        self.wait(0.2)
        self.say(messages.Arm(TOKEN, 45000, 850, 1))
        self.wait(0.7)
        self.say(messages.Run(TOKEN, self.status_ms, round(rpm * 1000), 600000, 900000, 90000))


def main() -> None:
    """Run until killed."""
    rpm = float(sys.argv[2])
    host = SmallHost(sys.argv[1])
    host.start(rpm)
    told = False
    while True:
        host.wait(0.15)
        host.say(messages.Renew(TOKEN, host.status_ms))
        if not told and host.status is not None and host.status.table_mrpm > rpm * 990:
            told = True
            print("at speed", flush=True)


if __name__ == "__main__":
    main()
