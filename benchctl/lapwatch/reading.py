"""One way to read the pulses: which target each was, and the charts that follow from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

from benchctl.lapwatch.charts import cusum, ewma
from benchctl.lapwatch.pickup import LEAST_DOUBT, after_loss, after_seen
from benchctl.lapwatch.placement import Spans

LEAST_SPREAD2 = 0.04**2
WEAK_LOST = math.log(0.15 / 0.04)
WEAK_SEEN = math.log(0.85 / 0.96)
"""The chart of lost targets: 15 % lost against 4 %."""
WEAK_STRAY = 0.5 * WEAK_LOST
JERK_CLIP = 7.0
"""The jerk chart looks for scatter grown 2.5 times; one gap counts for no more nats than this."""
DROP_CLIP = 8.0
SLIDE_S = 1.5
"""Memory of the slide chart: it averages the quick wander of a healthy lap (0.2 to 0.6 s, a judgement)."""
SHARE_TARGETS = 24.0
STRAY_A_BURST, MOST_STRAY = 0.1, 0.05


@dataclass(slots=True)
class Habits:
    """What this lap does when it turns true: the yardsticks of the charts, in logs of the spin ratio."""

    scatter: float = 0.05
    """Standard deviation from gap to gap."""
    usual: float | None = None
    """Level of the last half minute, in which drops are sought."""
    seconds_per_turn: float = 2.0
    """Time of a lap turn at the usual ratio and the present table speed."""
    lost: float = 0.02
    """Share of pulses lost."""
    stray: float = 0.001
    """Edges per mirror turn that are no target and no part of a burst."""
    drop_shift: float = 0.20
    drop_scatter: float = 0.06

    def met_burst(self) -> None:
        """A burst of interference came; where these are, lone stray edges will be too."""
        self.stray += STRAY_A_BURST * (MOST_STRAY - self.stray)

    def drop_score(self, fall: float, noise2: float) -> float:
        """Nats for a drop by `drop_shift`, from a gap this far below the usual level."""
        return self.drop_shift * (fall - 0.5 * self.drop_shift) / (self.drop_scatter**2 + noise2)


class Gap(NamedTuple):
    """Mirror turns and lap turns at the end of a gap, and the spin ratio in it."""

    turns: float
    lap: float
    ratio: float


class Reading:
    """One way to read the pulses so far."""

    __slots__ = (
        "charged", "doubt", "drop", "gaps", "jerk", "lap", "level", "recent", "score", "share", "slide",
        "spread2", "target", "track", "turns", "weak",
    )  # fmt: skip

    def __init__(self, turns: float, target: int, log_ratio: float, lap: float = 0.0) -> None:
        self.turns = turns
        """Mirror turns at the last pulse read as a target."""
        self.target = target
        self.lap = lap
        """Lap turns since the readings began."""
        self.track = log_ratio
        """Log of the spin ratio, mean of a quarter turn."""
        self.level = log_ratio
        """The same over a turn and a half."""
        self.spread2 = 0.08 * 0.08
        """Variance of the log ratio of the next gap about the track."""
        self.score = 0.0
        """Log-likelihood against the best reading."""
        self.doubt = LEAST_DOUBT
        """Probability that the pickup is weak just now."""
        self.share = 0.0
        """Share of the last 24 targets or so that were lost or strayed."""
        self.jerk = self.drop = self.slide = self.weak = 0.0
        """The charts: scatter, drop and losses in nats, slide as a mean log ratio against the usual."""
        self.gaps = 1
        """Gaps spanned by the last pulse: above 1, targets were lost."""
        self.charged = 0
        """Overdue targets that already count as lost because of stray edges."""
        self.recent: list[Gap] = [Gap(turns, lap, 0.0)]
        """The gaps of the last 1.25 turns; the first entry only says where they begin."""

    def copy(self) -> Reading:
        """A reading that goes its own way from here."""
        other = Reading.__new__(Reading)
        other.turns, other.target, other.lap = self.turns, self.target, self.lap
        other.track, other.level, other.spread2 = self.track, self.level, self.spread2
        other.score, other.doubt, other.share = self.score, self.doubt, self.share
        other.jerk, other.drop, other.slide, other.weak = self.jerk, self.drop, self.slide, self.weak
        other.gaps, other.charged = self.gaps, self.charged
        other.recent = self.recent.copy()
        return other

    def calm(self) -> None:
        """Begin the charts anew."""
        self.jerk = self.drop = self.slide = 0.0

    def strayed(self, overdue: int) -> None:
        """The last edge was no target, and so many targets are overdue."""
        self.share += (1.0 - self.share) / SHARE_TARGETS
        self.weak += WEAK_STRAY
        self.charged = max(self.charged, overdue)

    def like(self, other: Reading) -> bool:
        """Whether two readings have come to the same place."""
        return (
            self.turns == other.turns
            and self.target == other.target
            and -0.1 < self.track - other.track < 0.1
        )

    def overdue(self, spans: Spans, turns: float) -> int:
        """Targets that must have passed by now, at the lowest likely speed."""
        slow = (turns - self.turns) * math.exp(self.track - 2.5 * math.sqrt(self.spread2))
        row, count = spans.rows[self.target], 0
        while count < spans.longest and row[count + 1] < slow:
            count += 1
        return count

    def take(self, spans: Spans, habits: Habits, turns: float, gaps: int, window: float) -> None:
        """Read a pulse as the target `gaps` further on; keep `window` lap turns of gaps."""
        width = spans.rows[self.target][gaps] if gaps <= spans.longest else gaps / spans.count
        log_ratio = math.log(width / (turns - self.turns))
        miss = log_ratio - self.track
        square = miss * miss
        gain = 4.0 * width
        noise2 = spans.noise2[self.target]
        if gain < 0.8 and square > 9.0 * (self.spread2 + noise2):
            gain = 0.8
        self.track += miss * (gain if gain < 1.0 else 1.0)
        square -= noise2
        spread2 = self.spread2 + 0.15 * ((square if square < 0.5 else 0.5) - self.spread2)
        self.spread2 = spread2 if spread2 > LEAST_SPREAD2 else LEAST_SPREAD2
        self._count(habits.lost, 0 if gaps == 1 else spans.lost(self.target, gaps, habits.seconds_per_turn))
        self.lap += width
        self.turns = turns
        self.target = (self.target + gaps) % spans.count
        self.gaps, self.charged = gaps, 0
        recent = self.recent
        last = recent[-1]
        width = self.lap - last.lap
        if width < spans.narrow:
            return
        ratio = width / (turns - last.turns)
        self._chart(habits, width, math.log(ratio), noise2)
        recent.append(Gap(turns, self.lap, ratio))
        horizon = self.lap - window
        while recent[1].lap < horizon:
            del recent[0]

    def _count(self, usual: float, lost: int) -> None:
        """Lost targets: the doubt, the share, and the chart that tells a weak pickup from a usual one."""
        for _ in range(lost):
            self.doubt = after_loss(self.doubt, usual)
            self.share += (1.0 - self.share) / SHARE_TARGETS
            self.weak += WEAK_LOST
        self.doubt = after_seen(self.doubt, usual)
        self.share -= self.share / SHARE_TARGETS
        self.weak = cusum(self.weak, WEAK_SEEN)

    def _chart(self, habits: Habits, width: float, log_ratio: float, noise2: float) -> None:
        """Scatter about the level (jerk), and drop and slide below the usual ratio."""
        off = log_ratio - self.level
        scatter2 = habits.scatter * habits.scatter + noise2
        score = 0.42 * off * off / scatter2 - 0.9163
        self.jerk = cusum(self.jerk, score if score < JERK_CLIP else JERK_CLIP)
        most = 3.0 * math.sqrt(scatter2)
        off = most if off > most else -most if off < -most else off
        gain = width / 1.5
        self.level += off * (gain if gain < 0.5 else 0.5)
        if habits.usual is not None:
            fall = habits.usual - log_ratio
            score = habits.drop_score(fall, noise2)
            self.drop = cusum(self.drop, score if score < DROP_CLIP else DROP_CLIP)
            waited_s = width * habits.seconds_per_turn
            self.slide = ewma(self.slide, -fall, waited_s / (waited_s + SLIDE_S))
