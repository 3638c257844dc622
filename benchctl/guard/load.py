"""The motor's load: told when it nears the board's limit, and when it reads nothing.

At its limit the board takes the power off, and the lap stands where it was. A load that reads nothing leaves
the board blind to a lap that grabs and to a motor that is held.
"""

from __future__ import annotations

from benchctl.guard.levels import Level
from benchctl.guard.limits import GuardLimits
from benchctl.guard.sight import Finding, Sight


class LoadHighRule:
    """Warns below the limit at which the board takes the power off; the limit is what the board has told."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._level: Level | None = None

    def see(self, sight: Sight) -> Finding | None:
        limit = sight.load_limit_percent
        if limit is None:
            return None
        high = self.limits.load_high_share * limit
        if self._level is None or self._level.high != high:
            self._level = Level(high, self.limits.load_deadband_percent)
        if not self._level.see(sight.load_percent):
            return None
        return Finding("load_high", f"load {sight.load_percent:.0f} %; at {limit:.0f} % the power goes off")


class LoadUnreadRule:
    """A motor that turns table and lap has a load; where none is read for some time, the signal is gone."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._since_s: float | None = None

    def see(self, sight: Sight) -> Finding | None:
        if sight.load_percent > self.limits.load_none_percent:
            self._since_s = None
            return None
        self._since_s = sight.now_s if self._since_s is None else self._since_s
        if sight.now_s - self._since_s < self.limits.load_none_s:
            return None
        return Finding("load_unread", f"load {sight.load_percent:.1f} % while the table turns")
