"""A cable that damages what it carries: told while the run permit still holds."""

from __future__ import annotations

from collections import deque

from benchctl.guard.levels import Level
from benchctl.guard.sight import Finding

WINDOW_S = 10.0
DAMAGED_SHARE = 0.02
"""Damaged stretches over status reports in the window. About as many other frames come beside the reports,
so this is one frame in a hundred."""
DEADBAND = 0.01
LEAST_REPORTS, LEAST_DAMAGED = 50, 5
"""Fewer reports, or less damage than this in the window, say nothing yet. Five by chance, at two damaged
frames in a thousand, come once in about 45 hours (Poisson, mean 0.4 a window, windows independent)."""


class CableRule:
    """Watches the share of damaged frames over ten seconds."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, int, int]] = deque()
        self._level = Level(DAMAGED_SHARE, DEADBAND)

    def see(self, now_s: float, damaged: int, reports: int) -> Finding | None:
        """Take how many stretches were damaged and how many reports came in this step."""
        if damaged or reports:
            self._seen.append((now_s, damaged, reports))
        while self._seen and self._seen[0][0] < now_s - WINDOW_S:
            self._seen.popleft()
        all_damaged = sum(row[1] for row in self._seen)
        all_reports = sum(row[2] for row in self._seen)
        if all_reports < LEAST_REPORTS:
            return None
        share = all_damaged / (all_damaged + all_reports) if all_damaged >= LEAST_DAMAGED else 0.0
        if not self._level.see(share):
            return None
        return Finding("cable_noisy", f"{all_damaged} damaged frames in {WINDOW_S:g} s")
