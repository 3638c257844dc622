"""The bench in lines: one per event, one every ten seconds; for pipes, phones and screen readers."""

from __future__ import annotations

import queue
import sys
import threading
from typing import TextIO

from benchctl.clock import Clock, SystemClock
from benchctl.segment.states import ENDING, TURNING, State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui import lines
from benchctl.tui.bench import Bench
from benchctl.tui.digits import clock as as_clock

EVERY_S = 10.0
LOOK_S = 0.1


def run_plain(bench: Bench, out: TextIO, *, clock: Clock | None = None, source: TextIO | None = None) -> int:
    """Tell the bench in lines and take acts by name, one a line, until `quit` or the lines end."""
    teller = PlainFace(bench, out)
    time = clock or SystemClock()
    typed = _reader(source or sys.stdin)
    teller.say(
        "Type an act and Enter: arm, run, wetted, lifted, looked, stop, quit. STOP is no emergency stop."
    )
    while not teller.over:
        bench.answer()
        teller.look(time.monotonic_s())
        while True:
            try:
                word = typed.get_nowait()
            except queue.Empty:
                break
            teller.take(word)
        time.sleep(LOOK_S)
    return 0


def _reader(source: TextIO) -> queue.Queue[str]:
    words: queue.Queue[str] = queue.Queue()

    def read() -> None:
        for line in source:
            words.put(line.strip().lower())
        words.put("quit")

    threading.Thread(target=read, name="typed lines", daemon=True).start()
    return words


class PlainFace:
    """Turns snapshots into lines and typed words into acts."""

    def __init__(self, bench: Bench, out: TextIO) -> None:
        self._bench = bench
        self._out = out
        self._told = 0.0
        self._last_line: tuple[float, str] | None = None
        self._call: str | None = None
        self._headline = ""
        self._leaving = False
        self.over = False

    def say(self, words: str) -> None:
        """One line."""
        print(words, file=self._out, flush=True)

    def look(self, now_s: float) -> None:
        """Tell what has changed, and a summary every ten seconds while the table turns."""
        shot = self._bench.snapshot()
        if shot.headline != self._headline:
            self._headline = shot.headline
            self.say(f"{lines.origin(shot, self._bench.pace)}  {shot.headline}: {shot.do_now}")
        for line in shot.lines:
            if self._last_line is None or (line.at_s, line.words) > self._last_line:
                self._last_line = (line.at_s, line.words)
                self.say(f"{as_clock(line.at_s)}  {line.words}")
        title = None if shot.call is None else shot.call.title
        if title != self._call:
            self._call = title
            if shot.call is not None:
                self.say(f"CALL  {shot.call.title}: {shot.call.do}")
        if shot.state in TURNING and now_s - self._told >= EVERY_S:
            self._told = now_s
            self.say(self._summary(shot))
        if self._leaving and shot.state not in (*TURNING, *ENDING, State.STARTING):
            self.over = True

    def _summary(self, shot: Snapshot) -> str:
        return (
            f"{as_clock(shot.left_s)} left; table {lines.number(shot.table_rpm)} rpm, lap "
            f"{lines.number(shot.lap.lap_rpm)} rpm, spin {lines.number(shot.lap.spin_ratio, 2)}, "
            f"load {lines.number(shot.load_percent, 0)} %; {shot.lap.words}"
        )

    def take(self, word: str) -> None:
        """One typed line."""
        if word in ("quit", "q"):
            self._leaving = True
            self._bench.do(Done(Act.STOP))
        elif word in {act.value for act in Act}:
            self._bench.do(Done(Act(word)))
        elif word:
            self.say(f"not an act; known are {', '.join(sorted(act.value for act in Act))}, quit")
