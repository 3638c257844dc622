"""How a face ends: STOP first, whatever ends it, and what is known of a crash in a file of its own.

Imports no terminal library, so that the screen and the lines end alike.
"""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from benchctl.segment.states import ENDING, TURNING, State
from benchctl.session.snapshot import Snapshot
from benchctl.tui.bench import Bench

DONE, DEFECT, STOPPED, LINK_LOST = 0, 1, 3, 4
SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")
_MAY_TURN = (*TURNING, *ENDING, State.STARTING, State.ARMED, State.ARMING)


def at_rest(shot: Snapshot) -> bool:
    """Whether a face may close without stopping anything."""
    return not shot.turning and shot.state not in _MAY_TURN


class Came:
    """Whether a signal came, and whether the table turned, or was about to, then."""

    def __init__(self) -> None:
        self.number: int | None = None
        self.turning = False


@contextmanager
def signals_stop(bench: Bench, end: Callable[[], None]) -> Iterator[Came]:
    """While inside, each of the ending signals asks for STOP at once and then calls `end`."""
    came = Came()

    def take(number: int, frame: FrameType | None) -> None:
        before = bench.snapshot()
        bench.stop_now()
        came.number = number
        came.turning = came.turning or not at_rest(before)
        end()

    numbers = [number for name in SIGNALS if (number := getattr(signal, name, None)) is not None]
    before = {number: signal.signal(number, take) for number in numbers}
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def status_of(bench: Bench, came: Came) -> int:
    """The exit status of a face that ended without a crash."""
    if came.turning:
        return STOPPED
    return LINK_LOST if bench.snapshot().link == "lost" else DONE


def report(error: BaseException, folder: Path | None) -> None:
    """Keep what is known of a crash in a file of its own, and name it on standard error."""
    text = "".join(traceback.format_exception(error))
    try:
        if folder is None:
            raise OSError("no folder was given for reports")
        folder.mkdir(parents=True, exist_ok=True)
        path = next(p for n in range(1, 10_000) if not (p := folder / f"crash-{n:04d}.txt").exists())
        path.write_text(text, encoding="utf-8")
    except OSError as cannot:
        print(
            f"{text}benchctl: the screen failed and STOP was sent; report not kept: {cannot}", file=sys.stderr
        )
        return
    print(
        f"benchctl: the screen failed and STOP was sent to the table. The report is {path}", file=sys.stderr
    )
