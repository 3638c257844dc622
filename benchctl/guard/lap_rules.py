"""Rules for the lap: stalled, jerky, slowing, fast, or only a silent sensor.

Never on weak evidence in a way that costs glass: warn, slow, wet, stop, in that order. Water comes before a
planned stop; only a stall and a lap off its post do not wait for it, and then it is asked for at once.
"""

from __future__ import annotations

from collections import deque

from benchctl.guard.limits import GuardLimits
from benchctl.guard.sight import Finding, Sight


class StallRule:
    """A lap that stands on turning glass wears a zone and drags: stop by ramp at once."""

    def see(self, sight: Sight) -> Finding | None:
        if sight.verdict.state != "stalled":
            return None
        return Finding("lap_stalled", sight.verdict.reason, trip="lap_stalled")


class JerkRule:
    """A jerking lap is named and a slower speed offered. Jerking hard for some turns it is slowed; where it
    stops in each cycle, water is called for and the segment ends."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._hard_since: float | None = None
        self._stopping_since: float | None = None

    def see(self, sight: Sight) -> Finding | None:
        limits, severity = self.limits, sight.verdict.severity or 0.0
        seen_well = sight.verdict.weak_share <= limits.jerk_weak_share
        jerky = sight.verdict.state == "jerky" and seen_well
        self._hard_since = _held(jerky and severity > limits.jerk_ease_severity, self._hard_since, sight)
        self._stopping_since = _held(
            jerky and severity >= limits.jerk_stop_severity, self._stopping_since, sight
        )
        if not jerky:
            return None
        found = Finding(
            "lap_jerky", sight.verdict.reason, offer_rpm=sight.target_rpm * limits.jerk_offer_share
        )
        if self._lasted(self._stopping_since, sight):
            return found._replace(wet_and_stop="lap_jerky")
        if self._lasted(self._hard_since, sight):
            self._hard_since = sight.lap_turns  # three turns more before it is slowed again
            return found._replace(ease_rpm=sight.target_rpm * limits.jerk_ease_share)
        return found

    def _lasted(self, since_turns: float | None, sight: Sight) -> bool:
        return since_turns is not None and sight.lap_turns - since_turns >= self.limits.jerk_turns


def _held(true_now: bool, since: float | None, sight: Sight) -> float | None:
    if not true_now:
        return None
    return sight.lap_turns if since is None else since


class SignalRule:
    """A silent lap sensor is not a stall: say so, go slower, and stop unless the person watches the lap.
    One that has given nothing since the start is as silent, whether the lap turns or not."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._since_s: float | None = None
        self._turns = 0.0

    def holds(self, sight: Sight) -> bool:
        """Whether the sensor is silent: it was, and no target has passed since. What the watcher makes of
        that silence later, at another speed, tells nothing new of the lap."""
        if sight.verdict.state == "no_signal":
            return True
        if sight.verdict.state == "waiting" and sight.lap_turns == 0.0:
            due_s = self.limits.first_turns * 60.0 / max(1.0, sight.target_rpm)
            return sight.running_s > max(self.limits.first_turn_s, due_s)
        unseen = self._since_s is not None and sight.lap_turns == self._turns
        return unseen and sight.verdict.state == "stalled"

    def see(self, sight: Sight) -> Finding | None:
        limits = self.limits
        if not self.holds(sight):
            self._since_s = None
            return None
        if self._since_s is None:
            self._since_s, self._turns = sight.now_s, sight.lap_turns
        silent_s = sight.now_s - self._since_s
        watched = sight.watching_since_s
        if watched is not None and sight.now_s - watched < limits.watching_s:
            return Finding("lap_watched", f"{limits.watching_s - (sight.now_s - watched):.0f} s more")
        found = Finding("lap_sensor_dead", sight.verdict.reason)
        if silent_s >= limits.signal_stop_s:
            return found._replace(trip="lap_sensor_dead")
        if silent_s >= limits.signal_ease_s:
            return found._replace(ease_rpm=limits.dry_rpm)
        return found


class LapOffRule:
    """A lap that turns with the mirror while the load is down may be off its post. A load that reads nothing
    at all is no witness: its wire is off."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits

    def see(self, sight: Sight) -> Finding | None:
        if sight.verdict.state != "fast":
            return None
        ratio, read = sight.verdict.load_ratio, sight.load_percent > self.limits.load_none_percent
        if read and ratio is not None and ratio < self.limits.load_gone_share:
            return Finding("lap_off", sight.verdict.reason, trip="lap_off")
        return Finding("lap_fast", sight.verdict.reason)


class SlowingRule:
    """A lap that loses speed is probably drying. Falling fast with the load rising, it is given a countdown
    in which water may help; then it creeps, calls, and stops once wetted."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._ratios: deque[tuple[float, float]] = deque()
        self._since_s: float | None = None

    def see(self, sight: Sight) -> Finding | None:
        falls = self._falls(sight)
        if sight.verdict.state != "slowing":
            self._since_s = None
            return None
        found = Finding("lap_slowing", sight.verdict.reason)
        if not falls:
            self._since_s = None
            return found
        self._since_s = sight.now_s if self._since_s is None else self._since_s
        left_s = self.limits.slowing_countdown_s - (sight.now_s - self._since_s)
        if left_s <= 0.0:
            return found._replace(wet_and_stop="lap_slowing")
        return found._replace(
            detail=f"{found.detail}; unless it recovers, it stops for water in {left_s:.0f} s"
        )

    def _falls(self, sight: Sight) -> bool:
        """Whether the ratio falls by more than a tenth a minute while the load is up."""
        limits = self.limits
        ratio, load = sight.verdict.spin_ratio, sight.verdict.load_ratio
        if ratio is None:
            self._ratios.clear()
            return False
        history = self._ratios
        if not history or sight.now_s - history[-1][0] >= 1.0:
            history.append((sight.now_s, ratio))
        while history[0][0] < sight.now_s - limits.slowing_window_s:
            history.popleft()
        loss = limits.slowing_fall_a_minute * limits.slowing_window_s / 60.0
        highest = max(value for _, value in history)
        return load is not None and load > limits.slowing_load_rise and ratio < (1.0 - loss) * highest


class WeakSignalRule:
    """A sensor that misses targets is worth a look after the segment."""

    def see(self, sight: Sight) -> Finding | None:
        weak = sight.verdict.state == "weak_signal"
        return Finding("lap_signal_weak", sight.verdict.reason) if weak else None
