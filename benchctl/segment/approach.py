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
    """Counts true lap turns at a speed: by the watcher's state, and by the turns of lap and table themselves.

    The ratio of a whole lap turn needs no knowledge of where the targets sit, so it is known from the first
    turn on, long before the watcher has learned enough to call the lap steady.
    """

    def __init__(self) -> None:
        self.true_turns = 0
        self._begun: tuple[float, float] | None = None
        self._last_ratio: float | None = None

    def restart(self) -> None:
        """Count again from nothing, as after a change of speed."""
        self.true_turns = 0
        self._begun = self._last_ratio = None

    def see(self, verdict: Verdict, lap_turns: float, table_turns: float) -> None:
        """Look at the lap; call several times a lap turn. Turns are since any fixed moment."""
        if verdict.state not in GOOD or self._begun is None:
            self.true_turns = self.true_turns if verdict.state in GOOD else 0
            self._begun = (lap_turns, table_turns)
            return
        by_lap, by_table = lap_turns - self._begun[0], table_turns - self._begun[1]
        if by_lap < 0.999 or by_table <= 0.0:
            return
        ratio, last = by_lap / by_table, self._last_ratio
        agrees = last is None or abs(ratio - last) <= AGREEMENT * max(ratio, last)
        self.true_turns = self.true_turns + 1 if agrees else 0
        self._begun, self._last_ratio = (lap_turns, table_turns), ratio

    @property
    def true(self) -> bool:
        """Whether the lap has turned true for long enough."""
        return self.true_turns >= TRUE_TURNS


def reached(table_rpm: float, target_rpm: float) -> bool:
    """Whether the measured speed is the speed asked for, within 4 % or 0.6 rpm."""
    return abs(table_rpm - target_rpm) <= max(0.6, 0.04 * target_rpm)
