"""The bench loop: one thread that owns the link and steps the runner in real time.

A face reads `snapshot()` and posts acts with `do`; neither waits. `answer()` tells that the face is alive:
without it for three seconds the run permit is no longer renewed and the board stops the table by itself.
An exception in a step sends STOP before it ends the loop. A simulated bench is advanced by the same
thread, at a pace that may be changed while it runs.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from benchctl.clock import Clock
from benchctl.segment.states import ENDING, TURNING, State
from benchctl.session.acts import Act, Done
from benchctl.session.runner import Runner
from benchctl.session.snapshot import Snapshot
from benchctl.session.view import Chart, snapshot

STEP_S = 0.03
FACE_PATIENCE_S = 3.0
LONGEST_STRIDE_S = 0.05
"""In simulated time, no step of the runner is longer than this however fast the pace."""
CALLING_PACE = 4.0
CLOSING_S = 8.0
"""How long closing waits for the table to come to rest."""
LAST_STOPS = 3


class Plant(Protocol):
    """A simulated bench that is advanced beside the runner."""

    def advance(self, to_s: float) -> None: ...


class BenchLoop:
    """Steps a runner in a thread of its own until it is closed."""

    def __init__(
        self,
        runner: Runner,
        clock: Clock,
        *,
        plant: Plant | None = None,
        pace: float = 1.0,
        moved: Callable[[float], bool] | None = None,
    ) -> None:
        """`moved` is told how far the simulated bench is; where it answers False, the program's step is left
        out, as if it hung or slept."""
        self.runner = runner
        self._clock = clock
        self._plant = plant
        self._pace = pace
        self._moved = moved
        self._bench_s = 0.0
        self._chart = Chart(runner.facts.job.segment.length_s)
        self._latest = snapshot(runner, self._chart)
        self._answered_s = clock.monotonic_s()
        self._posted: list[Done] = []
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._close_by = 0.0
        self._stop_now = threading.Event()
        self.crash: BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="bench loop", daemon=True)

    def start(self) -> None:
        """Begin to step."""
        self._thread.start()

    def snapshot(self) -> Snapshot:
        """The latest picture of the bench; immutable, at no cost."""
        return self._latest

    def do(self, done: Done) -> None:
        """Post a person's act; it is carried out in the next step."""
        if done.act is Act.STOP:
            self._stop_now.set()
            return
        with self._lock:
            self._posted.append(done)

    def answer(self) -> None:
        """The face is alive."""
        self._answered_s = self._clock.monotonic_s()

    @property
    def pace_set(self) -> float:
        """The pace that was set, whatever it is at this moment."""
        return self._pace

    def set_pace(self, pace: float) -> None:
        """Let simulated time run `pace` times as fast as life; no effect on a real bench."""
        if self._plant is not None:
            self._pace = max(1.0, min(200.0, pace))

    @property
    def pace(self) -> float | None:
        """The pace of the simulated bench at this moment; None on a real one.

        However fast it is set, it is life's while the bench waits for a person's act, and no more than
        four times life's while it calls for water, so that there is time to answer.
        """
        if self._plant is None:
            return None
        state, readying = self.runner.engine.state, self.runner.readying
        if state in (State.WET_DOWN, State.WAITING) or readying.waited_for:
            return min(self._pace, CALLING_PACE)
        hurried = state in TURNING or state in ENDING or readying.pressing
        return self._pace if hurried else 1.0

    def stop_now(self) -> None:
        """Ask for STOP; safe from a signal handler and from any thread."""
        self._stop_now.set()

    def stop_and_close(self) -> None:
        """STOP first, then end the loop once the table rests or after some seconds. Safe to call twice."""
        self._stop_now.set()
        self._closing.set()
        if self._thread.is_alive() and threading.current_thread() is not self._thread:
            self._thread.join(CLOSING_S + 2.0)

    def _run(self) -> None:
        last_s = self._clock.monotonic_s()
        try:
            while not self._done(last_s):
                now_s = self._clock.monotonic_s()
                self._stride((now_s - last_s) * (self.pace or 1.0))
                last_s = now_s
                self._latest = snapshot(self.runner, self._chart)
                self._stop_now.wait(max(0.0, STEP_S - (self._clock.monotonic_s() - now_s)))
        except BaseException as error:  # noqa: BLE001 - whatever it is, the table is stopped first
            self.crash = error
            self._last_stop()

    def _stride(self, by_s: float) -> None:
        """Advance the bench by `by_s`, in steps short enough for the runner."""
        target_s = self._bench_s + max(0.0, by_s)
        while True:
            step_s = (
                min(LONGEST_STRIDE_S, target_s - self._bench_s) if self._plant else target_s - self._bench_s
            )
            self._bench_s += step_s
            if self._plant is not None:
                self._plant.advance(self._bench_s)
            if self._moved is None or self._moved(self._bench_s):
                self._take_acts()
                face_ok = self._clock.monotonic_s() - self._answered_s < FACE_PATIENCE_S
                self.runner.step(self._bench_s, face_ok)
            if self._bench_s >= target_s - 1e-9:
                return

    def _take_acts(self) -> None:
        if self._stop_now.is_set():
            self._stop_now.clear()
            self.runner.do(Done(Act.STOP))
        with self._lock:
            posted, self._posted = self._posted, []
        for done in posted:
            self.runner.do(done)

    def _done(self, now_s: float) -> bool:
        if not self._closing.is_set():
            self._close_by = now_s + CLOSING_S
            return False
        still = self.runner.engine.turning or self.runner.ending
        return not self._stop_now.is_set() and (not still or now_s > self._close_by)

    def _last_stop(self) -> None:
        """After a crash of ours: STOP must go out, whatever else fails."""
        runner, now_s = self.runner, self._bench_s
        for _ in range(LAST_STOPS):
            with suppress(Exception):
                runner.link.stop(now_s, False, "program_error")
            with suppress(Exception):
                runner.link.poll(now_s)
        with suppress(Exception):
            why = f"{type(self.crash).__name__}: {self.crash}"[:300]
            runner.books.keep_event("note", {"text": f"program error while {runner.engine.state}: {why}"})
