"""A drying lap, told by the motor's load."""

from __future__ import annotations

from collections import deque

from benchctl.guard.limits import GuardLimits
from benchctl.guard.sight import Finding, Sight


class DryRule:
    """Motor load that climbs at constant speed is a drying lap: call for water, then slow, then stop."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._history: deque[tuple[float, float]] = deque()
        self._lowest: float | None = None
        self._lowest_rpm = 0.0
        self._base: float | None = None
        self._since_s = 0.0
        self._bucket: list[float] = []
        self._bucket_s = 0.0

    def see(self, sight: Sight) -> Finding | None:
        limits = self.limits
        unread = sight.load_percent <= limits.load_none_percent
        if self._base is None and abs(sight.target_rpm - self._lowest_rpm) > self._same(sight.target_rpm):
            self._lowest, self._lowest_rpm = None, sight.target_rpm
        if self._base is None and (unread or sight.since_speed_change_s < limits.settled_after_s):
            self._history.clear()
            self._bucket.clear()
            return None
        load = None if unread else self._five_seconds(sight)
        if load is not None:
            self._judge(sight.now_s, load)
        if self._base is None:
            return None
        climbing_s = sight.now_s - self._since_s
        found = Finding("lap_drying", f"load {sight.load_percent:.0f} % of the motor's rating, and climbing")
        if climbing_s >= limits.dry_stop_after_s:
            return found._replace(trip="dry_lap")
        if climbing_s >= limits.dry_ease_after_s:
            return found._replace(ease_rpm=limits.dry_rpm)
        return found

    def _same(self, rpm: float) -> float:
        """How far another speed may lie from `rpm`, and its load still be compared."""
        return self.limits.dry_same_speed * rpm

    def _five_seconds(self, sight: Sight) -> float | None:
        """The mean load of the last whole five seconds, once per five seconds."""
        if not self._bucket:
            self._bucket_s = sight.now_s
        self._bucket.append(sight.load_percent)
        if sight.now_s - self._bucket_s < 5.0:
            return None
        mean = sum(self._bucket) / len(self._bucket)
        self._bucket.clear()
        return mean

    def _judge(self, now_s: float, load: float) -> None:
        limits, history = self.limits, self._history
        history.append((now_s, load))
        while history[0][0] < now_s - limits.dry_window_s:
            history.popleft()
        self._lowest = load if self._lowest is None else min(self._lowest, load)
        window_low = min(value for _, value in history)
        if self._base is None:
            if load > limits.dry_rise * window_low or load > limits.dry_rise_over_segment * self._lowest:
                self._base, self._since_s = max(window_low, 1e-9), now_s
        elif load < limits.dry_relief * self._base:
            self._base = None
            history.clear()
