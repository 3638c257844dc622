"""The host's guard: rules that look at lap, load and link, and say what must be done.

Each rule is a small class with `see(sight) -> Finding | None` that answers with the strongest finding it
holds at that moment; it keeps its own memory and knows nothing of the others. The board has its own rules
and the last word; these are what only the host can know.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from benchctl.guard.limits import GuardLimits
from benchctl.lapwatch import Verdict


class Sight(NamedTuple):
    """What the rules look at in one step: seconds, rpm, percent; turns since the table was told to run."""

    now_s: float
    table_rpm: float
    target_rpm: float
    load_percent: float
    verdict: Verdict
    lap_turns: float
    running_s: float
    since_speed_change_s: float
    watching_since_s: float | None


class Finding(NamedTuple):
    """What a rule found. `trip` stops by ramp, `ease_rpm` goes slower, otherwise it is only said."""

    name: str
    priority: int
    title: str
    do: str
    trip: str | None = None
    ease_rpm: float | None = None


class StallRule:
    """A lap that stands on turning glass wears a zone and drags: stop by ramp at once."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits

    def see(self, sight: Sight) -> Finding | None:
        never = sight.verdict.state == "waiting" and sight.running_s > self.limits.first_turn_s
        if sight.verdict.state != "stalled" and not never:
            return None
        return Finding("lap_stalled", 1, "Lap has stopped", "Stopping the table; wet now", trip="lap_stalled")


class JerkRule:
    """A jerking lap is named; jerking hard for some turns it is slowed, stopping each cycle it is stopped."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._hard_since: float | None = None
        self._stopping_since: float | None = None

    def see(self, sight: Sight) -> Finding | None:
        limits, severity = self.limits, sight.verdict.severity or 0.0
        jerky = sight.verdict.state == "jerky"
        self._hard_since = _held(jerky and severity > limits.jerk_ease_severity, self._hard_since, sight)
        self._stopping_since = _held(
            jerky and severity >= limits.jerk_stop_severity, self._stopping_since, sight
        )
        if not jerky:
            return None
        warning = Finding("lap_jerky", 2, "Lap jerks", "Wet it or slow down")
        if self._lasted(self._stopping_since, sight):
            return warning._replace(priority=1, do="Stopping the table; wet now", trip="lap_jerky")
        if self._lasted(self._hard_since, sight):
            return warning._replace(ease_rpm=sight.target_rpm * limits.jerk_ease_share)
        return warning

    def _lasted(self, since_turns: float | None, sight: Sight) -> bool:
        return since_turns is not None and sight.lap_turns - since_turns >= self.limits.jerk_turns


def _held(true_now: bool, since: float | None, sight: Sight) -> float | None:
    if not true_now:
        return None
    return sight.lap_turns if since is None else since


class SignalRule:
    """A silent lap sensor is not a stall: say so, go slower, and stop unless the person watches the lap."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._since_s: float | None = None
        self._turns = 0.0

    def holds(self, sight: Sight) -> bool:
        """Whether the sensor is silent: it was, and no target has passed since. What the watcher makes of
        that silence later, at another speed, tells nothing new of the lap."""
        if sight.verdict.state == "no_signal":
            return True
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
        warning = Finding("lap_sensor_dead", 2, "Lap sensor silent", "Is the lap turning? Look at it")
        watched = sight.watching_since_s
        if watched is not None and sight.now_s - watched < limits.watching_s:
            return warning._replace(priority=3, do="You are watching the lap; check its sensor")
        if silent_s >= limits.signal_stop_s:
            return warning._replace(priority=1, do="Stopping the table; wet now", trip="lap_sensor_dead")
        if silent_s >= limits.signal_ease_s:
            return warning._replace(ease_rpm=limits.dry_rpm)
        return warning


class LapOffRule:
    """A lap that turns with the mirror while the load is gone may be off its post."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits

    def see(self, sight: Sight) -> Finding | None:
        if sight.verdict.state != "fast":
            return None
        ratio = sight.verdict.load_ratio
        if ratio is not None and ratio < self.limits.load_gone_share:
            return Finding("lap_off", 1, "Lap runs with the mirror", "Stay back; stopping", trip="lap_off")
        return Finding("lap_fast", 2, "Lap runs with the mirror", "Look at the post and the weights")


class SlowingRule:
    """A lap that loses speed is probably drying."""

    def see(self, sight: Sight) -> Finding | None:
        if sight.verdict.state == "slowing":
            return Finding("lap_slowing", 2, "Lap is losing speed", "Wet the work; it is probably drying")
        if sight.verdict.state == "weak_signal":
            return Finding("lap_signal_weak", 3, "Lap sensor misses targets", "Look at it after this segment")
        return None


class DryRule:
    """Motor load that climbs at constant speed is a drying lap: call for water, then slow, then stop."""

    def __init__(self, limits: GuardLimits) -> None:
        self.limits = limits
        self._history: deque[tuple[float, float]] = deque()
        self._lowest: float | None = None
        self._base: float | None = None
        self._since_s = 0.0
        self._bucket: list[float] = []
        self._bucket_s = 0.0

    def see(self, sight: Sight) -> Finding | None:
        limits = self.limits
        if self._base is None and sight.since_speed_change_s < limits.settled_after_s:
            self._history.clear()
            self._bucket.clear()
            return None
        load = self._five_seconds(sight)
        if load is not None:
            self._judge(sight.now_s, load)
        if self._base is None:
            return None
        climbing_s = sight.now_s - self._since_s
        warning = Finding("lap_drying", 2, "Drag is rising", "Wet the work now")
        if climbing_s >= limits.dry_stop_after_s:
            return warning._replace(priority=1, do="Stopping; flood before lifting", trip="dry_lap")
        if climbing_s >= limits.dry_ease_after_s:
            return warning._replace(ease_rpm=limits.dry_rpm)
        return warning

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


class Guard:
    """All rules of the host, seen together."""

    def __init__(self, limits: GuardLimits | None = None) -> None:
        self.limits = limits or GuardLimits()
        shared = self.limits
        self._stall = StallRule(shared)
        self._signal = SignalRule(shared)
        self._rules = (LapOffRule(shared), JerkRule(shared), SlowingRule(), DryRule(shared))

    def see(self, sight: Sight) -> list[Finding]:
        """What is found now, the worst first; empty while the table hardly turns."""
        if sight.table_rpm < self.limits.turning_rpm:
            return []
        silent = self._signal.holds(sight)
        rules = (*self._rules, self._signal) if silent else (self._stall, self._signal, *self._rules)
        found = [finding for rule in rules if (finding := rule.see(sight)) is not None]
        return sorted(found, key=lambda finding: finding.priority)
