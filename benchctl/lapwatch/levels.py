"""What this lap usually does: the reference ratio, its usual wander, and the limits that follow from them."""

from __future__ import annotations

import math

from benchctl.lapwatch.charts import (
    HOURS_BETWEEN_FALSE_ALARMS,
    likelihood_limit,
    normal_limit,
)
from benchctl.lapwatch.reading import Habits, Reading

RECENT_S, RECENT_TURNS = 25.0, 8.0
"""Memory of the recent level: it follows the slow wander of a healthy lap."""
LONG_S, LONG_TURNS = 300.0, 60.0
"""Memory of the reference ratio."""
LEAST_SLIDE, MOST_SLIDE = 0.092, 0.115
LEAST_DROP, MOST_DROP = 0.11, 0.135
LEAST_LOST, LOST_PRIOR, LOST_MEMORY = 0.008, 120.0, 2000.0
LEAST_STRAY, STRAY_FORGOTTEN = 0.001, 0.01
FROZEN = 0.6
"""Past this share of the limit of a fall the recent level hardly follows it, and its spread not at all."""
FAST_SHARE = 0.12


class Levels:
    """Learns while the lap is steady, stands still while it is not."""

    def __init__(self, reference_ratio: float | None, gaps_per_hour: float) -> None:
        self.habits = Habits()
        self.reference = None if reference_ratio is None else math.log(reference_ratio)
        self._stored = reference_ratio is not None
        self._slide2 = 0.022**2
        self._drop2 = 0.028**2
        self._steady_s = 0.0
        self._steady_turns = 0.0
        self._targets = 0
        self.slide_limit, self.drop_share, self.fast_share = LEAST_SLIDE, LEAST_DROP, FAST_SHARE
        """What is no wander any more, in log ratio: a fall of the weighted mean below the recent level, a
        fall of the one-turn mean below the reference, and its rise over it."""
        self.limits_for(gaps_per_hour)

    def limits_for(self, gaps_per_hour: float) -> None:
        """Limits of the charts from the budget of false alarms and the number of gaps in an hour."""
        samples = HOURS_BETWEEN_FALSE_ALARMS * max(gaps_per_hour, 60.0)
        self.jerk_limit = self.drop_limit = likelihood_limit(samples)
        self._deviations = normal_limit(samples)
        self.weak_limit = likelihood_limit(samples) - 3.0
        self._shares()

    def pace(self, mirror_turns_per_s: float, targets: int) -> float:
        """Gaps in an hour at the usual ratio, to which the limits are set."""
        usual = math.exp(self.habits.usual or 0.0)
        gaps_per_hour = max(300.0, 3600.0 * mirror_turns_per_s * usual * targets)
        self.limits_for(gaps_per_hour)
        return gaps_per_hour

    def settle(self, log_ratio: float, scatter: float) -> None:
        """The lap has come to spin true at this level, with this scatter from gap to gap."""
        habits = self.habits
        habits.scatter = min(0.12, max(0.025, scatter))
        habits.drop_scatter = max(0.05, 1.2 * habits.scatter)
        habits.usual = log_ratio
        if self.reference is None:
            self.reference = log_ratio
        self._steady_s = self._steady_turns = 0.0

    def off_reference(self, ratio: float | None) -> float | None:
        """Log of a ratio over the reference; None while either is not known."""
        return None if ratio is None or self.reference is None else math.log(ratio) - self.reference

    def accept(self, log_ratio: float) -> None:
        """This level is the usual one from now on."""
        self.reference = self.habits.usual = log_ratio
        self._stored = False
        self._steady_s = self._steady_turns = 0.0

    def learn(self, reading: Reading, noise2: float, turn_log: float, width: float, elapsed_s: float) -> None:
        """Take one more gap of a steady lap."""
        habits = self.habits
        if habits.usual is None or self.reference is None:
            return
        self._targets += reading.gaps
        share = reading.gaps - 1 - habits.lost * reading.gaps
        habits.lost = max(LEAST_LOST, habits.lost + share / min(LOST_MEMORY, self._targets + LOST_PRIOR))
        habits.stray -= STRAY_FORGOTTEN * width * (habits.stray - LEAST_STRAY)
        self._steady_s += elapsed_s
        self._steady_turns += width
        scatter2 = habits.scatter * habits.scatter
        off = (math.log(reading.recent[-1].ratio) - reading.level) ** 2
        off *= scatter2 / (scatter2 + noise2)
        most = 9.0 * scatter2
        gain = 0.04 * width if width < 1.0 else 0.04
        scatter2 += gain * ((off if off < most else most) - scatter2)
        habits.scatter = 0.025 if scatter2 < 0.025**2 else 0.12 if scatter2 > 0.12**2 else math.sqrt(scatter2)
        habits.drop_scatter = max(0.05, 1.2 * habits.scatter)
        self._spreads(reading.slide, turn_log - self.reference, gain)
        recent = min(1.0, max(elapsed_s / RECENT_S, 0.0), width / RECENT_TURNS)
        recent = (
            max(recent, min(0.5, width / max(self._steady_turns, width)))
            if self._steady_turns < 8.0
            else recent
        )
        if -reading.slide > FROZEN * self.slide_limit:
            recent *= 0.25
        habits.usual += recent * max(-0.08, min(0.08, turn_log - habits.usual))
        long = min(elapsed_s / LONG_S, width / LONG_TURNS)
        if not self._stored:
            long = max(long, min(elapsed_s / (self._steady_s + 20.0), width / (self._steady_turns + 5.0)))
        self.reference += long * max(-0.08, min(0.08, turn_log - self.reference))

    def _spreads(self, slide: float, drop: float, gain: float) -> None:
        """Learn the usual wander, but not from a fall that may become an alarm."""
        if -slide < FROZEN * self.slide_limit:
            square, most = slide * slide, 9.0 * self._slide2
            self._slide2 += gain * ((square if square < most else most) - self._slide2)
        if -drop < FROZEN * self.drop_share:
            square, most = drop * drop, 9.0 * self._drop2
            self._drop2 += gain * ((square if square < most else most) - self._drop2)
        self._shares()

    def slide_limit_after(self, nats: float) -> float:
        """The slide's limit where another witness has given so many nats for a fall already."""
        if nats <= 0.0:
            return self.slide_limit
        return self.slide_limit * math.sqrt(max(0.5, 1.0 - 2.0 * nats / self._deviations**2))

    def _shares(self) -> None:
        """Limits that follow from the usual wander."""
        usual = self._deviations * math.sqrt(self._drop2)
        self.slide_limit = min(MOST_SLIDE, max(LEAST_SLIDE, self._deviations * math.sqrt(self._slide2)))
        self.drop_share = min(MOST_DROP, max(LEAST_DROP, usual))
        self.fast_share = max(math.log1p(FAST_SHARE), usual)
