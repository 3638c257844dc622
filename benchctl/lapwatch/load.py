"""Motor load, the second witness: a stopped lap scrubs with its whole face, a dead pickup changes nothing."""

from __future__ import annotations

import math
from collections import deque

SHORT = 8
"""Reports (0.4 s at 20 a second) whose mean is held against the base."""
QUICK_S = 1.0
STEADY_S = 15.0
PREDICTION_TRUST = 0.85
"""Bearings take a share of the load that does not jump, so expect a little less than geometry predicts."""
SURE = 12.5
"""Most nats that the load may give for or against."""
LEAST_SPREAD = 0.01


class LoadWitness:
    """Follows motor load (percent) and says how likely it is that the lap stopped since the last pulse."""

    def __init__(self) -> None:
        self.quick = 0.0
        """Mean of the last second."""
        self.base = 0.0
        """`quick` when the last target passed."""
        self.steady = 0.0
        """Mean of the last quarter minute in which the lap was steady."""
        self.count = 0
        """Reports since the last target passed."""
        self._recent: deque[float] = deque([0.0] * SHORT, maxlen=SHORT)
        self._last_s = -1.0
        self._last = 0.0
        self._spread2 = 0.02**2
        self._white2 = 0.02**2

    def report(self, at_s: float, load: float, steady: bool) -> None:
        """Take a report of the load."""
        elapsed = at_s - self._last_s
        if self._last_s < 0.0:
            self.quick = self.base = self._last = load
            elapsed = 0.0
        self._last_s = at_s
        self._recent.append(load)
        self.count += 1
        gain = elapsed if elapsed < 0.5 else 0.5
        self.quick += gain * (load - self.quick)
        if steady:
            if self.steady == 0.0:
                self.steady = self.quick
            self.steady += gain / STEADY_S * (load - self.steady)
        if self.quick > 0.0:
            step = (load - self._last) / self.quick
            step *= step
            self._white2 += 0.01 * (0.5 * (step if step < 0.02 else 0.02) - self._white2)
        self._last = load

    def target_passed(self, usual: bool) -> None:
        """A target passed; `usual` if it came when due, so that the load shows only its usual scatter."""
        if usual and self.count >= 2 and self.base > 0.0:
            off = self._mean(min(SHORT, self.count)) / self.base - 1.0
            square, most = off * off, 16.0 * self._spread2
            self._spread2 += 0.05 * ((square if square < most else most) - self._spread2)
        self.base = self.quick
        self.count = 0

    def _mean(self, reports: int) -> float:
        recent = self._recent
        return sum(recent[-i] for i in range(1, reports + 1)) / reports

    def rise(self, base: float) -> float | None:
        """Load since the last target against `base`, as a share; None while it cannot be told."""
        if base <= 0.0 or self.count < 2:
            return None
        means = [self._mean(reports) for reports in (min(3, self.count), min(SHORT, self.count))]
        return max(means) / base - 1.0

    def odds_of_stop(self, jump: float, base: float) -> float | None:
        """Nats for a stopped lap (against: negative), given a predicted jump; None if it cannot tell."""
        expected = PREDICTION_TRUST * jump
        if base <= 0.0 or self.count < 2 or expected <= 0.0:
            return None
        reports = min(SHORT, self.count)
        odds = self._odds(expected, base, reports)
        if reports > 3:
            odds = max(odds, self._odds(expected, base, 3))
        return max(-SURE, min(SURE, odds))

    def _odds(self, expected: float, base: float, reports: int) -> float:
        off = self._mean(reports) / base - 1.0
        spread2 = max(self._spread2, LEAST_SPREAD**2) + self._white2 * (1.0 / reports - 1.0 / SHORT)
        return expected * (off - 0.5 * expected) / spread2

    def spread(self) -> float:
        """Usual scatter of the load from one target to the next, as a share."""
        return math.sqrt(max(self._spread2, LEAST_SPREAD**2))

    @property
    def ratio(self) -> float | None:
        """Load of the last second against the load when the lap was last steady."""
        return self.quick / self.steady if self.steady > 0.0 else None
