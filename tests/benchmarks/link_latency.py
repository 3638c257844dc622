"""How soon a STOP act is on the wire, and how far apart renewals are, in life's time with a busy face.

    python -m tests.benchmarks.link_latency [STOPS] [SECONDS]      by hand; about two minutes

The whole bench loop on a port: the simulated bench runs in a process of its own behind a pseudo-terminal.
The face is a thread that computes without a pause in the same interpreter, the worst that a screen can do;
the loaded runs add two processes that do nothing but compute. A frame is on the wire when the write to the
port has returned. Prints what was measured.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from itertools import pairwise
from pathlib import Path

from benchctl.assembly.build import Parts, build_on_port
from benchctl.assembly.headless import RUN_AFTER_ARMED_S
from benchctl.assembly.ports import open_port
from benchctl.clock import SystemClock
from benchctl.link.transport import Transport
from benchctl.models.job import demo_job
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.live import BenchLoop
from firmware_protocol import codec, frames, messages


class Tap:
    """A transport that notes when frames of each kind have been written."""

    def __init__(self, inner: Transport) -> None:
        self._inner = inner
        self._frames = frames.FrameReader()
        self.written_s: dict[int, list[float]] = {messages.STOP: [], messages.RENEW: []}

    def read(self) -> bytes:
        return self._inner.read()

    def write(self, data: bytes) -> None:
        self._inner.write(data)
        now_s = time.monotonic()
        for payload in self._frames.feed(data):
            kind = codec.header_of(payload).kind
            if kind in self.written_s:
                self.written_s[kind].append(now_s)

    def close(self) -> None:
        self._inner.close()


class Face:
    """A face that computes all the time and says that it lives."""

    def __init__(self, loop: BenchLoop, busy: bool) -> None:
        self._ended = threading.Event()
        self._loop = loop
        self._busy = busy
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def _live(self) -> None:
        while not self._ended.is_set():
            self._loop.answer()
            if self._busy:
                sum(n * n for n in range(20_000))
            else:
                time.sleep(0.05)

    def end(self) -> None:
        self._ended.set()
        self._thread.join()


def wait_for(loop: BenchLoop, state: State, limit_s: float = 20.0) -> None:
    """Wait until the segment is in a state."""
    until_s = time.monotonic() + limit_s
    while loop.runner.engine.state is not state:
        if time.monotonic() > until_s:
            raise SystemExit(f"waited in vain for {state.value}; it is {loop.runner.engine.state.value}")
        time.sleep(0.02)


def stop_delays_ms(loop: BenchLoop, tap: Tap, count: int) -> list[float]:
    """Milliseconds from the act to the first STOP frame written, at random moments."""
    stops = tap.written_s[messages.STOP]
    draw, delays = random.Random(1), []
    for _ in range(count):
        time.sleep(0.25 + draw.random() * 0.1)
        seen = len(stops)
        act_s = time.monotonic()
        loop.stop_now()
        while len(stops) == seen:
            time.sleep(0.0005)
        delays.append((stops[seen] - act_s) * 1000.0)
    return delays


def renewal_gaps_ms(loop: BenchLoop, parts: Parts, tap: Tap, seconds: float) -> list[float]:
    """Milliseconds between renewals while a segment turns."""
    time.sleep(1.0)
    while parts.link.settings is None:
        time.sleep(0.05)
    for _ in range(5):
        loop.do(Done(Act.ARM))
        time.sleep(1.0)
        if loop.runner.engine.state is State.ARMED:
            break
    wait_for(loop, State.ARMED)
    time.sleep(RUN_AFTER_ARMED_S)
    loop.do(Done(Act.RUN))
    wait_for(loop, State.CREEP)
    renewals = tap.written_s[messages.RENEW]
    renewals.clear()
    time.sleep(seconds)
    turning = loop.runner.engine.turning
    gaps = [(later - earlier) * 1000.0 for earlier, later in pairwise(list(renewals))]
    if not turning:
        raise SystemExit(f"the table was stopped: {loop.runner.engine.state.value}")
    return gaps


def share(values: list[float], part: float) -> float:
    """The value below which `part` of all lie."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def measure(name: str, folder: Path, port: Path, stops: int, seconds: float, *, busy: bool) -> None:
    """One row of figures."""
    tap = Tap(open_port(str(port), None)[0])
    parts = build_on_port(demo_job(), folder / f"book of {name}", tap)
    loop = BenchLoop(parts.runner, SystemClock())
    loop.start()
    face = Face(loop, busy)
    try:
        time.sleep(2.5)
        delays = stop_delays_ms(loop, tap, stops)
        gaps = renewal_gaps_ms(loop, parts, tap, seconds)
    finally:
        face.end()
        loop.stop_and_close()
        parts.close()
    print(
        f"{name:32} STOP p50 {share(delays, 0.5):5.1f}  p99 {share(delays, 0.99):5.1f}"
        f"  max {max(delays):5.1f} ms"
        f"   renewals p99 {share(gaps, 0.99):5.1f}  max {max(gaps):5.1f} ms  ({len(delays)}, {len(gaps)})",
        flush=True,
    )


def main(stops: int, seconds: float) -> None:
    """Print the rows."""
    load = [f"{one:.1f}" for one in os.getloadavg()]
    print(f"load of the machine before: {' '.join(load)}")
    with tempfile.TemporaryDirectory() as home:
        for name, busy, hogs in (
            ("quiet", False, 0),
            ("busy face", True, 0),
            ("busy face, two busy processes", True, 2),
        ):
            port = Path(home) / name.replace(" ", "-").replace(",", "")
            words = [sys.executable, "-m", "benchctl", "simulate", "--link", str(port)]
            others = [subprocess.Popen(words, stderr=subprocess.DEVNULL)]
            others += [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(hogs)]
            try:
                while not port.exists():
                    time.sleep(0.1)
                measure(name, Path(home), port, stops, seconds, busy=busy)
            finally:
                for other in others:
                    other.terminate()
                    other.wait()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, float(sys.argv[2]) if len(sys.argv) > 2 else 20.0)
