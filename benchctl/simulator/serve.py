"""The simulated bench in life's time behind a port, until it is told to end."""

from __future__ import annotations

import json
import threading
from typing import TextIO

from benchctl.clock import Clock
from benchctl.simulator.pseudo_port import PseudoPort
from benchctl.simulator.simulated import SimulatedBench

STEP_S = 0.004
TRUTH_EVERY_S = 0.025
SILENT_S = 0.4
MOST_BEHIND_S = 0.2
"""A bench further behind life than this was frozen, with the whole computer as a rule: it goes on from where
it was, rather than letting the run permit expire over time in which no host could have renewed it."""


class Server:
    """Lets a simulated bench live in life's time behind a port, and writes down the truth."""

    def __init__(
        self,
        bench: SimulatedBench,
        port: PseudoPort,
        clock: Clock,
        ended: threading.Event,
        truth: TextIO | None = None,
    ) -> None:
        self.bench = bench
        self._port = port
        self._clock = clock
        self._truth = truth
        self._truth_at_s = 0.0
        self._heard_s = 0.0
        self._ended = ended

    def run(self, seconds: float | None = None) -> None:
        """Serve for `seconds` of the bench, or until `ended` is set."""
        bench, clock = self.bench, self._clock
        zero_s = clock.monotonic_s()
        while not self._ended.is_set() and (seconds is None or bench.now_s < seconds):
            behind_s = clock.monotonic_s() - zero_s - bench.now_s
            if behind_s > MOST_BEHIND_S:
                zero_s += behind_s
                behind_s = 0.0
            self._live(bench.now_s + behind_s)
            self._rest(zero_s + bench.now_s + self.bench.constants.control_s)

    def _live(self, to_s: float) -> None:
        """Advance to a time, tick by tick, and carry bytes both ways."""
        bench, port = self.bench, self._port
        self._carry()
        while bench.now_s + bench.constants.control_s <= to_s:
            bench.tick()
            if bench.now_s >= self._truth_at_s:
                self._tell_truth()
        if bench.cable.unplugged and port.plugged:
            port.unplug()
        if port.plugged and (out := bench.transport.read()):
            port.write(out)

    def _carry(self) -> None:
        port, now_s = self._port, self.bench.now_s
        if not port.plugged:
            return
        if data := port.read():
            self._heard_s = now_s
            self.bench.transport.write(data)
        elif now_s - self._heard_s > SILENT_S:
            self._heard_s = now_s
            port.release_dead_lock()

    def _rest(self, until_s: float) -> None:
        """Wait for the next tick; bytes that come meanwhile are taken at once."""
        if not self._port.plugged:
            self._clock.sleep(min(STEP_S, until_s - self._clock.monotonic_s()))
            return
        left_s = until_s - self._clock.monotonic_s()
        if left_s > 0.0:
            self._port.wait(left_s)

    def _tell_truth(self) -> None:
        self._truth_at_s = self.bench.now_s + TRUTH_EVERY_S
        if self._truth is not None:
            self._truth.write(json.dumps(self.bench.truth()._asdict()) + "\n")
            self._truth.flush()
