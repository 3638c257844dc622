"""One alarm: its flags, how it is shown, and what can happen to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from benchctl.guard.alarm_rows import AlarmRow


class Alarm(NamedTuple):
    """One alarm as it stands. Priority 1 stopped the table, 2 wants an act within a minute, 3 is advice."""

    name: str
    priority: int
    title: str
    do: str
    since_s: float
    active: bool
    acknowledged: bool
    latched: bool = False
    silenced: bool = False
    shelved_until_s: float | None = None
    detail: str = ""
    """Numbers that a person can check by looking; empty where there are none."""
    cause: str | None = None
    """The alarm that this one is a consequence of and folds beneath; None for a cause of its own."""
    call: str | None = None
    listed: bool = True


class Change(NamedTuple):
    """One thing that happened to an alarm, for the log."""

    name: str
    what: str
    """raised, again, cleared, acknowledged, silenced, shelved, unshelved or reset."""
    priority: int
    cause: str | None = None
    listed: bool = True


@dataclass(slots=True)
class Held:
    """The flags of one alarm, as the book keeps them."""

    row: AlarmRow
    turned_s: float
    condition: bool = False
    active: bool = False
    acknowledged: bool = True
    latched: bool = False
    silenced: bool = False
    shelved_until_s: float | None = None
    since_s: float = 0.0
    told_s: float = 0.0
    detail: str = ""
    cause: str | None = None

    @property
    def stands(self) -> bool:
        return self.active or self.latched or not self.acknowledged

    def told(self, now_s: float) -> None:
        """Told to the person, for the first time or again."""
        self.told_s, self.acknowledged, self.silenced = now_s, False, False

    def change(self, what: str) -> Change:
        row = self.row
        return Change(row.name, what, row.priority, self.cause, row.listed)

    def shown(self) -> Alarm:
        row = self.row
        return Alarm(
            row.name,
            row.priority,
            row.title,
            row.do,
            self.since_s,
            self.active,
            self.acknowledged,
            self.latched,
            self.silenced,
            self.shelved_until_s,
            self.detail,
            self.cause,
            row.call,
            row.listed,
        )
