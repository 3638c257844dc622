"""A simulated bench served behind a pseudo-terminal in the test's own process, and the command line on it."""

from __future__ import annotations

import io
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from _pytest.capture import CaptureIO

from benchctl.cli import main
from benchctl.clock import SystemClock
from benchctl.simulator.pseudo_port import PseudoPort
from benchctl.simulator.serve import Server
from benchctl.simulator.simulated import SimulatedBench
from tests.simulator.raw_host import make_bench


@contextmanager
def served(path: Path, *mishaps: str) -> Iterator[SimulatedBench]:
    """A bench at `path`, in life's time, until left."""
    bench, ended = make_bench(*mishaps), threading.Event()
    with PseudoPort(path) as port:
        server = Server(bench, port, SystemClock(), ended)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        try:
            yield bench
        finally:
            ended.set()
            thread.join(5.0)


class BenchClock(SystemClock):
    """A simulated bench's own time: it lives while its host sleeps, at most twenty times as fast as life.

    So a crowded machine makes the whole slower, and nothing late.
    """

    PACE = 20.0

    def __init__(self, bench: SimulatedBench, port: PseudoPort) -> None:
        self._bench, self._port = bench, port

    def monotonic_s(self) -> float:
        return self._bench.now_s

    def sleep(self, duration_s: float) -> None:
        bench, until_s = self._bench, self._bench.now_s + duration_s
        while bench.now_s < until_s:
            bench.transport.write(self._port.read())
            bench.tick()
            self._port.write(bench.transport.read())
        super().sleep(duration_s / self.PACE)


@contextmanager
def stepped(path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SimulatedBench]:
    """A bench at `path` whose time goes on while the command sleeps."""
    bench = make_bench()
    with PseudoPort(path) as port:
        clock = BenchClock(bench, port)
        monkeypatch.setattr("benchctl.clock.SystemClock", lambda: clock)
        clock.sleep(1.2)
        yield bench


class Answer:
    """Standard input of a person who types one line, once the question for it is on standard error."""

    def __init__(self, question: str, line: str) -> None:
        self._question, self._line = question, line

    def __iter__(self) -> Iterator[str]:
        told = sys.stderr
        assert isinstance(told, CaptureIO)
        while self._question not in told.getvalue():
            time.sleep(0.01)
        yield self._line


class Shell:
    """Runs commands as a person would: exit status, and what was printed to each stream."""

    def __init__(self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
        self._capsys = capsys
        self._patch = monkeypatch
        self.out = self.err = ""

    def run(self, *words: str, typed: str | Answer = "") -> int:
        """One command; `typed` is all that is typed, then the input ends."""
        ahead = io.TextIOWrapper(io.BytesIO(typed.encode())) if isinstance(typed, str) else typed
        self._patch.setattr("sys.stdin", ahead)
        self._capsys.readouterr()
        try:
            status = main(list(words))
        except SystemExit as ended:
            status = int(ended.code or 0)
        self.out, self.err = self._capsys.readouterr()
        return status


def one_sentence(err: str) -> bool:
    """Whether a refusal is a single line with the program's name before it."""
    return err.startswith("benchctl: ") and err.count("\n") == 1
