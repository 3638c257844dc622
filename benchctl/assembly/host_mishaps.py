"""Plays what befalls the computer: a full disk, a clock that is set, a program that hangs, sleep."""

from __future__ import annotations

from benchctl.assembly.build import Parts
from benchctl.clock import MovableClock

HANG_S = 5.0
SUSPEND_S = 300.0
CLOCK_JUMP_S = 3600.0


class HostMishaps:
    """The host's mishaps of one simulated bench. `play` is called with the bench's time before each step."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._played: set[str] = set()
        self._hangs_until_s = self._sleeps_until_s = -1.0
        self._seen_s = 0.0

    def play(self, now_s: float) -> bool:
        """Begin what is due; whether the program runs at this moment."""
        parts, clock = self._parts, self._parts.clock
        assert parts.plant is not None
        passed_s, self._seen_s = now_s - self._seen_s, now_s
        if now_s < self._sleeps_until_s:
            if isinstance(clock, MovableClock):
                clock.suspend(passed_s)
            return False
        for planned in parts.plant.host_mishaps(now_s):
            if planned.mishap.name not in self._played:
                self._played.add(planned.mishap.name)
                self._begin(planned.mishap.name, now_s)
        return now_s >= self._hangs_until_s and now_s >= self._sleeps_until_s

    def _begin(self, name: str, now_s: float) -> None:
        if name == "host-hang":
            self._hangs_until_s = now_s + HANG_S
        elif name == "suspend":
            self._sleeps_until_s = now_s + SUSPEND_S
        elif name == "disk-full":
            self._parts.disk.full = True
        elif name == "clock-jump" and isinstance(self._parts.clock, MovableClock):
            self._parts.clock.jump_wall(CLOCK_JUMP_S)
