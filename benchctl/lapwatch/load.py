"""Motor load, the second witness: a stopped lap scrubs with its whole face, a dead pickup changes nothing."""

from __future__ import annotations

import math
from collections import deque
from typing import NamedTuple

from benchctl.lapwatch.load_step import StepFilter

SHORT = 8
"""Reports (0.4 s at 20 a second) whose mean is held against the base."""
STEADY_S = 30.0
SILENT_S = 20.0
"""While no target passes, the base follows slow drift with this memory."""
PREDICTION_TRUST = 0.85
"""Bearings take a share of the load that does not jump, so expect a little less than geometry predicts."""
SURE = 12.5
"""Most nats that the load may give for or against."""
LEAST_SPREAD = 0.01
LAG_S = 0.25
"""Most by which a drive's load lags (a judgement)."""
LEVEL_S, LEVEL_GAIN, LEVEL_SPREAD = 10.0, 0.3, 0.015
"""Memory of the level against which the load of a gap is held, longer than a dip and three gaps at least;
its least deviation."""
RISE_POWER = 1.75
"""A lap slowed to the share s of its speed shows 1 - s to this power of the rise of a stop (by geometry,
0.7 at half the speed)."""
MOST_FOR_GAP, MOST_AGAINST_GAP = 6.0, 2.0
"""Most nats that the load of one gap may give for a slow lap or against: it lags, and a dip may be short."""
CLEAR_OF_NOISE = 6.0
"""Standard deviations of one report by which a jump must stand out to be read from a few reports."""


class GapLoad(NamedTuple):
    """Load since the last target over its usual level, as a share; its variance; the rise of a stop."""

    off: float
    spread2: float
    jump: float

    def nats(self, share: float) -> float:
        """Log-likelihood ratio of the lap having slowed to this share of its speed against not at all."""
        expected = self.jump * (1.0 - math.pow(min(share, 1.3), RISE_POWER))
        nats = expected * (self.off - 0.5 * expected) / self.spread2
        return max(-MOST_AGAINST_GAP, min(MOST_FOR_GAP, nats))

    def nats_of_stop(self) -> float:
        """The same for a lap that stopped when the last target had passed, by all reports since."""
        return self.jump * (self.off - 0.5 * self.jump) / self.spread2


class Rise(NamedTuple):
    """How far the load since the last target tells of a stop."""

    nats: float
    """Log-likelihood ratio of a stop some time in the wait against none, `SURE` at most."""
    share: float
    """Rise of the load, as a share of the rise predicted, in the window that tells most."""


class LoadWitness:
    """Follows motor load (percent) and says how likely it is that the lap stopped since the last pulse."""

    def __init__(self) -> None:
        self.quick = 0.0
        """Mean of the last second."""
        self.base = 0.0
        """`quick` when the last target passed."""
        self.steady = 0.0
        """Mean of the last half minute in which the lap was steady."""
        self.count = 0
        """Reports since the last target passed."""
        self._recent: deque[float] = deque([0.0] * SHORT, maxlen=SHORT)
        self._step = StepFilter()
        self._last_s = self._target_s = -1.0
        self._last = 0.0
        self._spread2 = 0.02**2
        self._white2 = 0.02**2
        self._sum = 0.0
        self._level = 0.0
        self._gaps = 0
        self._level2 = 0.03**2

    def report(self, at_s: float, load: float, steady: bool, silent: bool) -> None:
        """Take a report of the load, while the lap is steady or its pickup silent."""
        elapsed = at_s - self._last_s
        if self._last_s < 0.0:
            self.quick = self.base = self._last = self._level = load
            elapsed = 0.0
        self._last_s = at_s
        self._recent.append(load)
        self._step.report(load)
        self.count += 1
        self._sum += load
        gain = elapsed if elapsed < 0.5 else 0.5
        self.quick += gain * (load - self.quick)
        if steady:
            if self.steady == 0.0:
                self.steady = self.quick
            self.steady += gain / STEADY_S * (load - self.steady)
        if silent:
            self.base += gain / SILENT_S * (load - self.base)
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
        gap = self.of_gap(0.0) if usual else None
        if gap is not None:
            square, most = gap.off * gap.off, 16.0 * self._level2
            self._level2 += 0.05 * ((square if square < most else most) - self._level2)
        if self.count > 0:
            self._gaps += 1
            gain = min(LEVEL_GAIN, (self._last_s - self._target_s) / LEVEL_S)
            self._level += max(gain, 1.0 / self._gaps) * (self._sum / self.count - self._level)
            self._step.target_passed(usual, (self._last_s - self._target_s) / self.count, self._white2)
        self._target_s = self._last_s
        self.base = self.quick
        self.count = 0
        self._sum = 0.0

    def begin_level(self) -> None:
        """The table did not turn at its speed until now: the level is learned anew."""
        self._gaps = 0

    def of_gap(self, jump: float) -> GapLoad | None:
        """The load since the last target, for a predicted rise at a stop; None while it cannot be told."""
        if self.count < 2 or self._gaps == 0 or self._level <= 0.0:
            return None
        off = self._sum / self.count / self._level - 1.0
        return GapLoad(off, max(self._level2, LEVEL_SPREAD**2), PREDICTION_TRUST * jump)

    def accept(self) -> None:
        """The present load is that of a steady lap."""
        self.steady = self.quick

    def _mean(self, reports: int) -> float:
        recent = self._recent
        return sum(recent[-i] for i in range(1, reports + 1)) / reports

    def rise(self, jump: float, gaps: float) -> Rise | None:
        """The rise since the last target in a wait of so many usual gaps; None while it cannot be told.

        `jump` is the rise predicted for a stop, as a share. The lap stopped some time in the first usual gap
        of the wait, and the load may lag.
        """
        expected = PREDICTION_TRUST * jump
        if self.base <= 0.0 or self.count < 1 or expected <= 0.0:
            return None
        waited_s = max(self._last_s - self._target_s, 1e-3)
        latest = math.ceil(self.count * min(1.0, 1.0 / max(gaps, 1.0) + LAG_S / waited_s))
        nats = self._step.nats(expected, latest)
        share = max(self._mean(reports) for reports in self._windows(jump)) / self.base - 1.0
        return Rise(max(-SURE, min(SURE, nats)), share / jump)

    def _windows(self, jump: float) -> tuple[int, int]:
        """Numbers of the latest reports to average: few if the jump stands out of their noise, and many."""
        few = math.ceil(self._white2 * (CLEAR_OF_NOISE / (PREDICTION_TRUST * jump)) ** 2)
        return min(max(few, 2), 3, self.count), min(SHORT, self.count)

    def spread(self) -> float:
        """Usual scatter of the load from one target to the next, as a share."""
        return math.sqrt(max(self._spread2, LEAST_SPREAD**2))

    @property
    def ratio(self) -> float | None:
        """Load of the last second against the load when the lap was last steady."""
        return self.quick / self.steady if self.steady > 0.0 else None
