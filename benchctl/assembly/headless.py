"""A segment without a screen in life's time: a bench loop, a line reader for the person, a list of events."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TextIO

from benchctl.assembly.build import Parts
from benchctl.assembly.stepped import not_armed, over
from benchctl.assembly.typed import TypedLines
from benchctl.clock import Clock
from benchctl.segment.states import ENDING, State
from benchctl.session.acts import Act, Done
from benchctl.session.live import BenchLoop

RUN_AFTER_ARMED_S = 0.6
CONNECT_S = 5.0
LOOK_EVERY_S = 0.05
HELD_UP_S = 3.0
"""A program that was held up for longer before the start starts nothing: nobody expects it any more."""
ARM_AGAIN_S = 1.0
ARM_AGAIN_REFUSED_S = 10.0
"""After a refusal of this program's own: time for a person to acknowledge, to reset, to free the disk."""
ARM_PATIENCE_S = 60.0
"""So long the board may refuse to arm, say because the emergency stop is pressed, before this gives up."""
_ACTS = {act.value: act for act in Act}


class Person:
    """The lines that a person types: each is the name of an act. Never blocks the bench."""

    def __init__(self, source: TextIO | None, say: Callable[[str], None]) -> None:
        self._typed = None if source is None else TypedLines(source)
        self._say = say

    @property
    def gone(self) -> bool:
        """Whether no more will be typed."""
        return self._typed is None or self._typed.ended

    def acts(self) -> list[Act]:
        """What was typed since the last call."""
        found = []
        for word in [] if self._typed is None else self._typed.take():
            if word in _ACTS:
                found.append(_ACTS[word])
            else:
                self._say(f"not an act; known are {', '.join(sorted(_ACTS))}")
        return found


@contextmanager
def stop_on_signals(stop: Callable[[], None]) -> Iterator[threading.Event]:
    """SIGINT, SIGTERM and SIGHUP ask for STOP; the event says that one came."""
    came = threading.Event()

    def take(number: int, frame: FrameType | None) -> None:
        came.set()
        stop()

    names = [getattr(signal, name, None) for name in ("SIGINT", "SIGTERM", "SIGHUP")]
    before = {number: signal.signal(number, take) for number in names if number is not None}
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class Headless:
    """Runs one segment on a bench loop: connects, arms, runs when told, ends with the segment.

    With `scripted` somebody else does the acts, and this only looks on.
    """

    def __init__(
        self,
        parts: Parts,
        loop: BenchLoop,
        clock: Clock,
        person: Person,
        *,
        start: bool,
        scripted: bool = False,
    ) -> None:
        self.parts = parts
        self.loop = loop
        self.clock = clock
        self.person = person
        self.start = start
        self.interrupted = False
        self.held_up = False
        """Whether the program was held up before the start, so that nothing was started."""
        self._armed_s: float | None = None
        self._asked_s = 0.0
        self._ran = self._scripted = scripted

    def run(self, watch: Callable[[], None]) -> None:
        """Until the segment is over; `watch` is called at every look. The bench loop must be running."""
        begun_s = last_s = self.clock.monotonic_s()
        with stop_on_signals(self.loop.stop_now) as came:
            while self.loop.crash is None and not over(self.parts, self.parts.runner.at.now_s):
                now_s = self.clock.monotonic_s()
                self.held_up = not self._ran and now_s - last_s > HELD_UP_S
                if self.held_up:
                    break
                last_s = now_s
                self.loop.answer()
                state = self.parts.runner.engine.state
                if came.is_set() and state not in ENDING and not self.parts.runner.engine.turning:
                    self.interrupted = True
                    break
                self._acts(state, now_s)
                watch()
                if self._refused() or (not self._ran and self._hopeless(begun_s, now_s)):
                    break
                self.clock.sleep(LOOK_EVERY_S)
            self.interrupted = self.interrupted or came.is_set()
        watch()

    def _refused(self) -> bool:
        """Arming was refused, and nobody is there who could mend what is in the way."""
        return not_armed(self.parts) and (self._scripted or self.start or self.person.gone)

    def _hopeless(self, begun_s: float, now_s: float) -> bool:
        """Nobody will start it: the board does not answer, or the person's lines have ended."""
        if self.parts.link.board is None:
            return now_s - begun_s > CONNECT_S
        if self._armed_s is None and now_s - begun_s > ARM_PATIENCE_S:
            return True
        return self.person.gone and not self.start

    def _acts(self, state: State, now_s: float) -> None:
        for act in self.person.acts():
            self._ran = self._ran or act is Act.RUN
            self.loop.do(Done(act))
        if self._ran or self.parts.link.board is None or self.parts.link.settings is None:
            return
        again_s = ARM_AGAIN_REFUSED_S if not_armed(self.parts) else ARM_AGAIN_S
        if state is State.READY and self._armed_s is None and now_s - self._asked_s > again_s:
            self._asked_s = now_s
            self.loop.do(Done(Act.ARM))
        elif state is State.ARMED:
            self._armed_s = now_s if self._armed_s is None else self._armed_s
            if self.start and now_s - self._armed_s >= RUN_AFTER_ARMED_S:
                self._ran = True
                self.loop.do(Done(Act.RUN))
