"""The plain baseline: raw gaps in seconds, 5 ms debounce, fixed thresholds, no load, no placement."""

from __future__ import annotations

from collections import deque
from statistics import median


class NaiveWatch:
    """Stalled at 3 x the median gap, jerky at severity 0.5 over a turn, slowing at -25 % of the median."""

    def __init__(self, targets: int) -> None:
        self.state = "waiting"
        self._gaps: deque[float] = deque(maxlen=max(24, 3 * targets))
        self._targets = targets
        self._last_s: float | None = None

    def pulse(self, at_s: float) -> None:
        """A pulse."""
        if self._last_s is not None:
            if at_s - self._last_s < 0.005:
                return
            self._gaps.append(at_s - self._last_s)
        self._last_s = at_s
        gaps = list(self._gaps)
        if len(gaps) < 2 * self._targets + 2:
            self.state = "settling"
            return
        turn = [1.0 / gap for gap in gaps[-max(3, self._targets) :]]
        mean = sum(turn) / len(turn)
        if (max(turn) - min(turn)) / (2.0 * mean) > 0.5:
            self.state = "jerky"
        elif mean < 0.75 / median(gaps):
            self.state = "slowing"
        else:
            self.state = "steady"

    def status(self, at_s: float, set_rpm: float, table_rpm: float, load_percent: float) -> None:
        """A report; only its time is used."""
        if self._last_s is None or len(self._gaps) < 3:
            return
        if at_s - self._last_s > 3.0 * median(self._gaps):
            self.state = "stalled"
