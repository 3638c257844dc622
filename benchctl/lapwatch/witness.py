"""The motor load beside the pulses: when it may be asked, and what it says of a stop or a lost lap."""

from __future__ import annotations

import math

from benchctl.lapwatch.geometry import LoadPrediction
from benchctl.lapwatch.load import GapLoad, LoadWitness, Rise
from benchctl.lapwatch.reading import Habits
from benchctl.lapwatch.settings import WatchSettings

LOAD_GONE, LOAD_GONE_S = 0.55, 1.0
DISTURBED_S = 2.0
"""The load is no witness for this long after a change of the speed asked for."""
SAG, FOLLOWING = 0.15, 0.06
"""How far the table may miss its speed, as a share, while the load is asked of a stop, or of a lost lap."""
SMALL_JUMP = 0.15
"""A table that gathers speed again may show a rise as small as this, so it counts only while the table holds
its speed."""
LEAST_SIGMA = 3.0
"""A predicted jump below so many usual deviations of the load proves nothing."""


class Witness:
    """Follows load and table speed; predicts the rise of load at a stop by geometry, unless it is given."""

    def __init__(self, settings: WatchSettings, habits: Habits) -> None:
        self._habits = habits
        self.load = LoadWitness()
        self._given = settings.load_jump
        self._prediction = LoadPrediction(
            settings.mirror_radius_m, settings.lap_radius_m, settings.post_offset_m, settings.hole_radius_m
        )
        self._set_rpm = self._table_rpm = 0.0
        self._disturbed_s = self._now_s = -1.0
        self._unsteady_s = -DISTURBED_S
        """When the table last missed its speed."""
        self._gone_s: float | None = None
        self._known = False

    def report(self, at_s: float, set_rpm: float, table_rpm: float, load: float | None, state: str) -> None:
        """Take a report; a load that was not measured is None."""
        self._now_s, self._table_rpm, self._known = at_s, table_rpm, load is not None
        if abs(set_rpm - self._set_rpm) > 0.02 * set_rpm + 0.05:
            self._set_rpm = set_rpm
            self._disturbed_s = at_s + DISTURBED_S
        if load is None:
            self._gone_s = None
            return
        self.load.report(at_s, load, state == "steady", state == "no_signal")
        if not self._follows(FOLLOWING):
            self.load.begin_level()
            self._gone_s = None
            self._unsteady_s = at_s
        elif self.load.quick >= LOAD_GONE * self.load.steady:
            self._gone_s = None
        elif self._gone_s is None:
            self._gone_s = at_s

    @property
    def gone(self) -> bool:
        """Whether the load has been far below that of the steady lap for a second."""
        return self._gone_s is not None and self._now_s - self._gone_s >= LOAD_GONE_S

    def _follows(self, share: float) -> bool:
        off = abs(self._table_rpm - self._set_rpm)
        return self._now_s >= self._disturbed_s and off <= share * self._set_rpm + 0.3

    def jump_at(self, log_ratio: float) -> float:
        """Predicted rise of the load, as a share, if the lap stops from this spin ratio."""
        return self._prediction.jump(math.exp(log_ratio)) if self._given is None else self._given

    def rise(self, jump: float, gaps: float) -> Rise | None:
        """What the load tells of a stop in a wait of so many usual gaps; None where it is no witness."""
        if not self._known or not self._follows(SAG):
            return None
        if jump < SMALL_JUMP and self._now_s < self._unsteady_s + DISTURBED_S:
            return None
        return self.load.rise(jump, gaps)

    def of_gap(self, log_ratio: float | None = None) -> GapLoad | None:
        """Load since the last target, for a lap at its usual spin ratio or this; None if it cannot tell."""
        usual = self._habits.usual if log_ratio is None else log_ratio
        if usual is None:
            return None
        jump = self.jump_at(usual)
        if not self._known or not self._follows(FOLLOWING) or jump < LEAST_SIGMA * self.load.spread():
            return None
        return self.load.of_gap(jump)
