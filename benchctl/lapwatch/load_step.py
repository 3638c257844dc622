"""A step of the motor load told from its drift, so that even a small rise at a stop is evidence.

The level is followed by a filter of fixed gain: the Kalman filter of a level that drifts like a random walk
under white noise, settled. What a report brings that the level did not foresee is its innovation. A step of
the load shows in the innovations after it, less and less as the level follows, and nowhere else, so the
log-likelihood ratio of a step is a weighted sum of them (Willsky and Jones 1976, from memory; derived anew).
"""

from __future__ import annotations

import math
from collections import deque

DRIFT2_PER_S = 0.006**2
"""Variance that the load's drift gains in a second, as a share squared (a judgement)."""
LEAST_GAIN, MOST_GAIN = 0.01, 0.3
LEAST_WHITE2 = 0.004**2
KEPT = 1024
"""Latest reports of a wait that are kept."""
FEWEST, CLEAR = 2, 3.0
"""Reports that must show a step, none counting for more than the step or so many deviations: one alone may be
a glitch."""
MEMORY, SLOW_MEMORY, MOST_LEARNED = 0.005, 0.003, 0.3
CLIP = 4.0


class StepFilter:
    """Follows the load's level and keeps the innovations since the last target."""

    def __init__(self) -> None:
        self._level = 0.0
        self._keep = 0.94
        self._offs: deque[float] = deque(maxlen=KEPT)
        self._square = 0.02**2
        """Usual square of an innovation, as a share."""
        self._sum, self._sum2 = 0.0, 0.003
        """Weighted sum of the innovations, and its usual square: where they hang together it is larger."""
        self._squares, self._sums2, self._count = 0.0, 0.0, 0
        """Of the reports since the last target; learned from once the next one has come."""

    def report(self, load: float) -> None:
        """Take a report of the load."""
        level, keep = self._level, self._keep
        if level <= 0.0:
            self._level = load
            return
        off = load / level - 1.0
        self._level = load + keep * (level - load)
        self._offs.append(off)
        self._squares += off * off
        self._sum = total = keep * self._sum + off
        self._sums2 += total * total
        self._count += 1

    def target_passed(self, usual: bool, report_s: float, white2: float) -> None:
        """A target passed, `usual` if when due; reports come every `report_s`, with this white noise."""
        count = self._count
        if usual and count:
            for_square, for_sum = min(MOST_LEARNED, MEMORY * count), min(MOST_LEARNED, SLOW_MEMORY * count)
            self._square += for_square * (min(self._squares / count, CLIP * self._square) - self._square)
            self._sum2 += for_sum * (min(self._sums2 / count, CLIP * self._sum2) - self._sum2)
        self._offs.clear()
        self._squares, self._sums2, self._count = 0.0, 0.0, 0
        gain = math.sqrt(DRIFT2_PER_S * report_s / max(white2, LEAST_WHITE2))
        self._keep = 1.0 - min(MOST_GAIN, max(LEAST_GAIN, gain))

    def nats(self, expected: float, latest: int) -> float:
        """Log-likelihood ratio of a rise by the share `expected` in the first `latest` reports of the wait.

        When it came is not known: the mean of the likelihoods over all those reports.
        """
        keep, offs = self._keep, self._offs
        latest -= self._count - len(offs)
        spread2 = max(self._square, self._sum2 * (1.0 - keep * keep), LEAST_WHITE2)
        most = max(expected, CLEAR * math.sqrt(spread2))
        total = weight = 0.0
        ways: list[float] = []
        for place in range(len(offs) - 1, -1, -1):
            off = offs[place]
            total = (off if off < most else most) + keep * total
            weight = 1.0 + keep * keep * weight
            if place <= latest and len(offs) - place >= FEWEST:
                ways.append(expected * (total - 0.5 * expected * weight) / spread2)
        if not ways:
            return 0.0
        best = max(ways)
        return best + math.log(sum(math.exp(way - best) for way in ways) / len(ways))
