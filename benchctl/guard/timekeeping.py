"""Whether the wall clock was set, or the computer slept: told apart by three clocks. Pure.

    wall       is set by people and by the network; may jump either way
    boot time  runs through sleep, never jumps
    monotonic  stands still in sleep, never jumps; all durations come from it

Wall less boot time moves when the clock was set; boot time less monotonic grows when the computer slept.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import NamedTuple

JUMP_S = 2.0
SLEPT_S = 1.0


class Clocks(NamedTuple):
    """One look at the three clocks, in seconds; `boot_s` is `mono_s` where the system has no such clock."""

    wall_s: float
    mono_s: float
    boot_s: float


class ClockNews(NamedTuple):
    """`clock_jump` (forward, or negative) or `computer_slept`, and by how many seconds."""

    name: str
    by_s: float
    clocks: Clocks


class ClockWatch:
    """Compares each look with the one before."""

    def __init__(self) -> None:
        self._wall_less_boot: float | None = None
        self._boot_less_mono = 0.0

    def see(self, clocks: Clocks) -> list[ClockNews]:
        """What happened to the clocks since the last look; a change of 2 s or less is drift, and followed."""
        ahead, slept = clocks.wall_s - clocks.boot_s, clocks.boot_s - clocks.mono_s
        before, slept_before = self._wall_less_boot, self._boot_less_mono
        self._wall_less_boot, self._boot_less_mono = ahead, slept
        if before is None:
            return []
        news = []
        if slept - slept_before > SLEPT_S:
            news.append(ClockNews("computer_slept", slept - slept_before, clocks))
        if abs(ahead - before) > JUMP_S:
            news.append(ClockNews("clock_jump", ahead - before, clocks))
        return news


def sleep_sentence(news: ClockNews) -> str:
    """How long the computer slept in a segment, and when that ended it, by the clock on the wall."""
    fell_asleep = datetime.fromtimestamp(news.clocks.wall_s - news.by_s, UTC).astimezone()
    minutes = news.by_s / 60
    slept = f"{minutes:.0f} min" if minutes >= 1 else f"{news.by_s:.0f} s"
    return f"The computer slept {slept}; the segment ended at {fell_asleep:%H:%M} and is not resumed"
