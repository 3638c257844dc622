"""Alarms that stand: raised by findings, held for a while after they clear, acknowledged by hand."""

from __future__ import annotations

from collections.abc import Iterable

from benchctl.guard.guard import Finding
from benchctl.session.snapshot import Alarm

OFF_DELAY_S = 5.0
"""An alarm whose cause has gone stays this long, so that a person who looks up still sees it."""


class Standing:
    """The alarms of one segment, worst first."""

    def __init__(self) -> None:
        self._alarms: dict[str, Alarm] = {}
        self._seen_s: dict[str, float] = {}

    def clear(self) -> None:
        """Forget all, as for a new segment."""
        self._alarms.clear()
        self._seen_s.clear()

    def see(self, findings: Iterable[Finding], now_s: float) -> list[Alarm]:
        """Take the findings of this step; give those alarms that were not standing before."""
        raised = []
        for finding in findings:
            old = self._alarms.get(finding.name)
            self._seen_s[finding.name] = now_s
            alarm = Alarm(
                name=finding.name,
                priority=finding.priority,
                title=finding.title,
                do=finding.do,
                since_s=now_s if old is None else old.since_s,
                active=True,
                acknowledged=old is not None and old.acknowledged and old.priority <= finding.priority,
            )
            self._alarms[finding.name] = alarm
            if old is None:
                raised.append(alarm)
        self._let_go(now_s)
        return raised

    def acknowledge(self) -> None:
        """The person has seen what stands; nothing else changes."""
        self._alarms = {name: alarm._replace(acknowledged=True) for name, alarm in self._alarms.items()}

    @property
    def standing(self) -> tuple[Alarm, ...]:
        """All alarms, worst and oldest first."""
        return tuple(sorted(self._alarms.values(), key=lambda alarm: (alarm.priority, alarm.since_s)))

    def _let_go(self, now_s: float) -> None:
        for name, seen_s in list(self._seen_s.items()):
            if seen_s == now_s:
                continue
            if now_s - seen_s >= OFF_DELAY_S:
                del self._alarms[name], self._seen_s[name]
            elif self._alarms[name].active:
                self._alarms[name] = self._alarms[name]._replace(active=False)
