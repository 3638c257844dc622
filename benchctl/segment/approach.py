"""When may the table go faster? After lap turns that were true, and once the speed asked for is reached."""

from __future__ import annotations

from benchctl.lapwatch import Verdict

GOOD = frozenset({"settling", "steady", "weak_signal", "fast"})
"""States of the watcher in which a lap turn counts as true."""

TRUE_TURNS = 2
"""Lap turns in a row before a speed is raised (common practice, no source)."""

AGREEMENT = 0.15
"""How far two lap turns may differ in spin ratio, as a share, to count as true."""


class Approach:
    """Counts true lap turns at a speed, from the watcher's verdict and the count of lap turns."""

    def __init__(self) -> None:
        self.true_turns = 0
        self._whole_turns: int | None = None
        self._last_ratio: float | None = None

    def restart(self) -> None:
        """Count again from nothing, as after a change of speed."""
        self.true_turns = 0
        self._whole_turns = self._last_ratio = None

    def see(self, verdict: Verdict, lap_turns: float) -> None:
        """Look at the lap; call at least once a lap turn."""
        whole = int(lap_turns)
        if self._whole_turns is None:
            self._whole_turns = whole
        if verdict.state not in GOOD or verdict.spin_ratio is None:
            self.true_turns, self._whole_turns = 0, whole
            return
        if whole > self._whole_turns:
            agrees = self._last_ratio is None or abs(
                verdict.spin_ratio - self._last_ratio
            ) <= AGREEMENT * max(verdict.spin_ratio, self._last_ratio)
            self.true_turns = self.true_turns + 1 if agrees else 0
            self._whole_turns, self._last_ratio = whole, verdict.spin_ratio

    @property
    def true(self) -> bool:
        """Whether the lap has turned true for long enough."""
        return self.true_turns >= TRUE_TURNS


def reached(table_rpm: float, target_rpm: float) -> bool:
    """Whether the measured speed is the speed asked for, within 4 % or 0.6 rpm."""
    return abs(table_rpm - target_rpm) <= max(0.6, 0.04 * target_rpm)
