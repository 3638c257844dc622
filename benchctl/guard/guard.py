"""The host's guard: rules that look at lap and load, and say what must be done.

Each rule is a small class with `see(sight) -> Finding | None` that answers with the strongest finding it
holds at that moment; it keeps its own memory and knows nothing of the others. The board has its own rules
and the last word; these are what only the host can know.
"""

from __future__ import annotations

from benchctl.guard.drying import DryRule
from benchctl.guard.lap_rules import (
    JerkRule,
    LapOffRule,
    SignalRule,
    SlowingRule,
    StallRule,
    WeakSignalRule,
)
from benchctl.guard.limits import GuardLimits
from benchctl.guard.load import LoadHighRule, LoadUnreadRule
from benchctl.guard.sight import Finding, Sight


class Guard:
    """All rules of the host, seen together."""

    def __init__(self, limits: GuardLimits | None = None) -> None:
        self.limits = limits or GuardLimits()
        shared = self.limits
        self._stall = StallRule()
        self._signal = SignalRule(shared)
        lap = (LapOffRule(shared), JerkRule(shared), SlowingRule(shared), DryRule(shared), WeakSignalRule())
        self._rules = (*lap, LoadHighRule(shared), LoadUnreadRule(shared))

    def see(self, sight: Sight) -> list[Finding]:
        """What is found now, stops first; empty while the table hardly turns."""
        if sight.table_rpm < self.limits.turning_rpm:
            return []
        silent = self._signal.holds(sight)
        rules = (*self._rules, self._signal) if silent else (self._stall, self._signal, *self._rules)
        found = [finding for rule in rules if (finding := rule.see(sight)) is not None]
        return sorted(found, key=lambda finding: finding.trip is None)
