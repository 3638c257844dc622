"""Sums over one segment: time, turns and load, from the board's clock and counters."""

from __future__ import annotations

from benchctl.lapwatch import Verdict
from benchctl.models.readings import Status
from benchctl.segment.approach import GOOD


class Tally:
    """Adds up what the board reports from the moment it is told to run."""

    def __init__(self, creep_rpm: float) -> None:
        self._turning_rpm = 0.5 * creep_rpm
        self._first: Status | None = None
        self._last: Status | None = None
        self.polishing_s = 0.0
        self.useful_turns = 0.0
        self._load_sum = 0.0
        self._load_count = 0

    def see(self, status: Status, verdict: Verdict) -> None:
        """Add one report; a board that restarted begins its counts anew and costs one interval."""
        last = self._last
        if last is None or status.table_turns < last.table_turns or status.at_s < last.at_s:
            self._first = status if self._first is None else self._rebased(status)
        elif status.table_rpm >= self._turning_rpm:
            self.polishing_s += status.at_s - last.at_s
            if verdict.state in GOOD:
                self.useful_turns += status.table_turns - last.table_turns
            self._load_sum += status.load_percent
            self._load_count += 1
        self._last = status

    def _rebased(self, status: Status) -> Status:
        return status._replace(
            table_turns=status.table_turns - self.table_turns, lap_turns=status.lap_turns - self.lap_turns
        )

    @property
    def table_turns(self) -> float:
        """Turns of the table since the segment began."""
        return (
            0.0
            if self._first is None or self._last is None
            else self._last.table_turns - self._first.table_turns
        )

    @property
    def lap_turns(self) -> float:
        """Turns of the lap since the segment began."""
        return (
            0.0 if self._first is None or self._last is None else self._last.lap_turns - self._first.lap_turns
        )

    @property
    def load_mean_percent(self) -> float | None:
        """Mean motor load while turning, percent of rated."""
        return self._load_sum / self._load_count if self._load_count else None

    def sums(self) -> dict[str, float]:
        """The sums under the names of the segment record."""
        return {
            "polishing_s": round(self.polishing_s, 3),
            "table_turns": round(self.table_turns, 3),
            "lap_turns": round(self.lap_turns, 3),
            "useful_turns": round(self.useful_turns, 3),
        }
