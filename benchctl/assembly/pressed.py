"""A cold press by itself, without a bench: nothing is connected, so nothing can turn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchctl.assembly.build import Disk, open_keeper
from benchctl.clock import Clock, SteppedClock, SystemClock
from benchctl.models.job import Job
from benchctl.press.case import PressCase
from benchctl.session.journal import Journal
from benchctl.session.pressing import Pressing

LOOK_EVERY_S = 0.1
STEP_S = 0.5
LONGEST_S = 30 * 3600.0
ANSWERS_AFTER_S = {"attentive": 15.0, "slow": 150.0, "absent": float("inf")}
"""How long the person of a stepped press takes to answer a call."""


@dataclass
class PressBench:
    """A press with its logbook and clock; `close` gives the logbook back."""

    pressing: Pressing
    clock: Clock
    recovered: str
    _close: Callable[[], int]

    def now_s(self) -> float:
        """A clock that also runs while the computer sleeps: the pitch flows on."""
        return self.clock.boottime_s()

    def step(self) -> None:
        """Follow time to this moment."""
        self.pressing.step(self.now_s())
        self.pressing.journal.poll()

    def close(self) -> int:
        """Close the logbook; the number of records that could not be kept."""
        return self._close()


def build_press(
    job: Job,
    case: PressCase,
    folder: Path,
    *,
    room_c: float,
    stepped: bool,
    system: str,
    listen: Callable[[dict[str, object]], None],
) -> PressBench:
    """A press that has begun. `stepped` runs on a clock that is moved by hand, and is marked simulated."""
    clock: Clock = SteppedClock(wall_start=SystemClock().wall()) if stepped else SystemClock()
    keeper, _, left = open_keeper(folder, clock, Disk(), threaded=not stepped)
    journal = Journal(keeper, clock, listen)
    pressing = Pressing(
        journal, job, case, clock.boottime_s(), simulated=stepped, room_c=room_c, system=system
    )
    return PressBench(pressing, clock, left, keeper.close)


def run_stepped(bench: PressBench, person: str) -> None:
    """The whole press in stepped time; a scripted person answers each call, or nobody does."""
    assert isinstance(bench.clock, SteppedClock)
    pressing, called_s = bench.pressing, None
    while pressing.active and bench.clock.now_s < LONGEST_S:
        bench.clock.now_s += STEP_S
        bench.step()
        now_s = bench.now_s()
        if pressing.call(now_s) is None:
            called_s = None
            continue
        called_s = now_s if called_s is None else called_s
        if now_s - called_s >= ANSWERS_AFTER_S[person]:
            pressing.answer(now_s)
            called_s = None
