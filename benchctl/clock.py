"""The one place that reads the computer's clocks.

Durations come from `monotonic_s`; wall time is only ever written beside them, for people.
`boottime_s` also runs while a laptop sleeps, so the difference of the two tells of a suspend.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What the live parts need of time; tests hand in one that they step."""

    def monotonic_s(self) -> float:
        """Seconds from an arbitrary start, never backwards, not counting sleep on Linux."""

    def boottime_s(self) -> float:
        """Seconds from an arbitrary start, counting sleep where the system can."""

    def wall(self) -> datetime:
        """Wall time with its offset from UTC."""

    def sleep(self, duration_s: float) -> None:
        """Let `duration_s` seconds pass."""


class SystemClock:
    """The computer's own clocks."""

    def monotonic_s(self) -> float:
        return time.monotonic()

    def boottime_s(self) -> float:
        boottime = getattr(time, "CLOCK_BOOTTIME", None)
        return time.monotonic() if boottime is None else time.clock_gettime(boottime)

    def wall(self) -> datetime:
        return datetime.now(UTC).astimezone()

    def sleep(self, duration_s: float) -> None:
        if duration_s > 0:
            time.sleep(duration_s)


class MovableClock(SystemClock):
    """The computer's clocks, with a wall clock that can be set and a sleep that can be played."""

    def __init__(self) -> None:
        self._set_by_s = 0.0
        self._slept_s = 0.0

    def boottime_s(self) -> float:
        return super().boottime_s() + self._slept_s

    def wall(self) -> datetime:
        return super().wall() + timedelta(seconds=self._set_by_s + self._slept_s)

    def jump_wall(self, by_s: float) -> None:
        """Set the wall clock forward or back; the monotonic time goes on as before."""
        self._set_by_s += by_s

    def suspend(self, for_s: float) -> None:
        """The computer sleeps: boot time and wall time go on, the monotonic time stands still."""
        self._slept_s += for_s


class SteppedClock(MovableClock):
    """A clock that stands until it is moved; wall time follows it from a fixed start."""

    def __init__(self, start_s: float = 0.0, wall_start: datetime | None = None) -> None:
        super().__init__()
        self.now_s = start_s
        self._start_s = start_s
        self._wall_start = wall_start or datetime(2026, 1, 1, tzinfo=UTC)

    def monotonic_s(self) -> float:
        return self.now_s

    def boottime_s(self) -> float:
        return self.now_s + self._slept_s

    def wall(self) -> datetime:
        passed_s = self.now_s - self._start_s + self._slept_s + self._set_by_s
        return datetime.fromtimestamp(self._wall_start.timestamp() + passed_s, UTC)

    def sleep(self, duration_s: float) -> None:
        self.now_s += max(0.0, duration_s)

    def follow(self, bench_s: float) -> None:
        """Move on with the bench's time, which does not stand still while the computer sleeps."""
        self.now_s = round(self._start_s + bench_s - self._slept_s, 6)
