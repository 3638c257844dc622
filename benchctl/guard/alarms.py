"""Alarms as independent flags: active, acknowledged, latched, silenced, shelved.

The model is the open one of OPC 10000-9 (read in excerpts: 5.8.2 to 5.8.6, 5.8.17, B.1.5), which says of
itself that it follows IEC 62682 and ISA-18.2 (not opened). What this keeps of it:

  active        the condition held for the on-delay; it stays until it was gone for the off-delay
  acknowledged  a person saw it; taken back when it is raised or told again
  latched       a stop for a fault: it stands until it is reset, which needs it acknowledged and no longer
                active, else the reset is refused and changes nothing
  silenced      its sound is quiet; what is acknowledged already need not be silenced
  shelved       put aside by a person for a time; priority 3 alone, at most half an hour, never past the
                end of a segment

Acknowledge, silence and reset are three acts; none of them moves anything, since nothing here can. Alarms of
one cause fold beneath the one that came first. Pure: the time is handed in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from benchctl.guard.alarm import Alarm, Change, Held
from benchctl.guard.alarm_rows import ADVICE, ALARMS, OVER_ALL, STOPS, AlarmRow, stop_row

MOST_SHELVED_S = 1800.0


class AlarmBook:
    """The alarms of one bench. Every call gives back what changed, in order, for the log."""

    def __init__(self, rows: Mapping[str, AlarmRow] = ALARMS) -> None:
        self._rows = rows
        self._held: dict[str, Held] = {}
        self.first: str | None = None
        """The first cause of the stop that stands: all other alarms fold beneath it. None: no stop stands."""

    # What holds

    def see(self, holding: Mapping[str, str], now_s: float) -> list[Change]:
        """Take all conditions that hold now: name and detail. KeyError for a name without a row."""
        for name, detail in holding.items():
            if name not in self._held:
                self._held[name] = Held(self._rows[name], now_s)
            self._held[name].detail = detail
        changes: list[Change] = []
        for name, held in self._held.items():
            changes += self._look(name, held, name in holding, now_s)
        self._forget()
        return changes

    def _look(self, name: str, held: Held, holds: bool, now_s: float) -> list[Change]:
        row = held.row
        if holds != held.condition:
            held.condition, held.turned_s = holds, now_s
        lasted_s = now_s - held.turned_s
        if held.shelved_until_s is not None and now_s >= held.shelved_until_s:
            return self._unshelve(held, now_s)
        if holds and not held.active:
            return [self._raise(name, held, now_s)] if lasted_s >= row.on_delay_s else []
        if held.active and not holds:
            return [self._clear(held)] if lasted_s >= row.off_delay_s else []
        due = row.again_s is not None and now_s - held.told_s >= row.again_s
        if held.active and due and held.shelved_until_s is None and (held.acknowledged or held.silenced):
            held.told(now_s)
            return [held.change("again")]
        return []

    def _raise(self, name: str, held: Held, now_s: float) -> Change:
        held.active, held.since_s = True, now_s
        held.told(now_s)
        held.cause = self._cause_of(name, held.row)
        if held.cause is None:
            self._fold_lower(name, held.row)
        return held.change("raised")

    def _clear(self, held: Held) -> Change:
        held.active = False
        if not held.row.wants_acknowledging:
            held.acknowledged = True
        return held.change("cleared")

    def _cause_of(self, name: str, row: AlarmRow) -> str | None:
        """The alarm this one folds beneath: the stop's first cause, or the first standing of its group."""
        if row.is_work:
            return None
        if self.first is not None:
            return None if self.first == name else self.first
        kin = [
            (other.since_s, key)
            for key, other in self._held.items()
            if key != name and row.group and other.row.group == row.group and other.stands
            if other.cause is None and other.row.priority <= row.priority and other.shelved_until_s is None
            if other.row.rank >= row.rank
        ]
        return min(kin)[1] if kin else None

    def _fold_lower(self, name: str, row: AlarmRow) -> None:
        """What stood on top of the group and is weaker folds beneath the one that came now."""
        for key, other in self._held.items():
            kin = key != name and row.group and other.row.group == row.group
            if kin and other.row.rank < row.rank and other.cause is None:
                other.cause = name

    def _forget(self) -> None:
        """Drop what is normal again. Where the first cause went, the oldest stop that still stands takes its
        place with all else beneath it; where none stands, each alarm is a cause of its own."""
        gone = [
            name
            for name, held in self._held.items()
            if not held.stands and not held.condition and held.shelved_until_s is None
        ]
        for name in gone:
            del self._held[name]
        if self.first is not None and self.first not in self._held:
            stops = [(held.since_s, name) for name, held in self._held.items() if self.stopped_for(name)]
            self.first = min(stops)[1] if stops else None
            self._fold_all()
        for held in self._held.values():
            if held.cause is not None and held.cause not in self._held:
                held.cause = None

    def _fold_all(self) -> None:
        """All beneath the first cause."""
        for name, held in self._held.items():
            held.cause = None if name == self.first or held.row.is_work else self.first

    # A stop

    def trip(self, reason: str, now_s: float, detail: str = "", *, explains: bool = False) -> list[Change]:
        """The table is being stopped for `reason`. The first cause stands on top until it is dealt with; one
        that is found out later and `explains` the first takes its place."""
        row = STOPS.get(reason) or stop_row(reason)
        if self.stopped_for(reason):
            return []
        held = Held(row, now_s, condition=True, latched=row.latches, detail=detail)
        self._held[reason] = held
        if self.first is None or explains or reason == OVER_ALL:
            self.first = reason
            self._fold_all()
        return [self._raise(reason, held, now_s)]

    def why_not_reset(self) -> str | None:
        """Why a reset would be refused now, in a few words; None where it may be asked for."""
        latched = [held for held in self._held.values() if held.latched]
        if not latched:
            return "nothing is latched"
        if any(held.active for held in latched):
            return "the cause is still there, or the table is not at rest"
        if not all(held.acknowledged for held in latched):
            return "acknowledge it first"
        return None

    def reset(self, now_s: float) -> list[Change]:
        """Let go of what is latched. Refused (nothing changes) while `why_not_reset` says so."""
        if self.why_not_reset() is not None:
            return []
        changes = []
        for held in self._held.values():
            if held.latched:
                held.latched = False
                changes.append(held.change("reset"))
        self._forget()
        return changes

    @property
    def latched(self) -> bool:
        """Whether a stop for a fault waits for its reset."""
        return any(held.latched for held in self._held.values())

    # The person

    def acknowledge(self, names: Iterable[str] | None = None) -> list[Change]:
        """The person has seen what stands, or those of `names`; nothing else changes."""
        wanted = set(self._held if names is None else names)
        changes = []
        for name, held in self._held.items():
            if name in wanted and not held.acknowledged and held.shelved_until_s is None:
                held.acknowledged = True
                changes.append(held.change("acknowledged"))
        self._forget()
        return changes

    def silence(self) -> list[Change]:
        """Quiet what sounds now; an alarm that comes later sounds again."""
        changes = []
        for held in self._held.values():
            sounds = held.row.call is not None and held.stands and not held.acknowledged
            if sounds and not held.silenced:
                held.silenced = True
                changes.append(held.change("silenced"))
        return changes

    def why_not_shelve(self, name: str, for_s: float = MOST_SHELVED_S) -> str | None:
        """Why `name` cannot be shelved for so long, in one sentence; None where it can."""
        held = self._held.get(name)
        if held is None or not held.stands:
            return f"{name[:40]!r} does not stand, so there is nothing to shelve"
        if held.row.priority != ADVICE:
            return f"'{held.row.title}' has priority {held.row.priority}; only advice can be shelved"
        if not (math.isfinite(for_s) and 0.0 < for_s <= MOST_SHELVED_S):
            return f"an alarm is shelved for at most {MOST_SHELVED_S / 60:g} min"
        return None

    def shelve(self, name: str, now_s: float, for_s: float = MOST_SHELVED_S) -> list[Change]:
        """Put advice aside for `for_s` seconds. Refused (nothing changes) where `why_not_shelve` says why."""
        if self.why_not_shelve(name, for_s) is not None:
            return []
        held = self._held[name]
        held.shelved_until_s = now_s + for_s
        return [held.change("shelved")]

    def unshelve(self, now_s: float) -> list[Change]:
        """Bring back all that was put aside; what still holds is told again."""
        changes: list[Change] = []
        for held in self._held.values():
            if held.shelved_until_s is not None:
                changes += self._unshelve(held, now_s)
        self._forget()
        return changes

    def _unshelve(self, held: Held, now_s: float) -> list[Change]:
        held.shelved_until_s = None
        changes = [held.change("unshelved")]
        if held.active:
            held.told(now_s)
            changes.append(held.change("again"))
        return changes

    def new_segment(self) -> None:
        """Forget what is over; what still holds or waits for its reset stays."""
        for held in self._held.values():
            if not held.active and not held.latched:
                held.acknowledged = True
        self._forget()

    # What stands

    def alarms(self) -> list[Alarm]:
        """All that stand, shelved and folded ones too: causes before consequences, worst and oldest first."""
        shown = [held.shown() for held in self._held.values() if held.stands]
        return sorted(shown, key=lambda alarm: (alarm.cause is not None, alarm.priority, alarm.since_s))

    def stopped_for(self, name: str) -> bool:
        """Whether a stop for this reason stands."""
        held = self._held.get(name)
        return held is not None and held.row.call == "fault" and held.stands

    def stands(self, name: str) -> bool:
        """Whether an alarm stands and is not shelved."""
        held = self._held.get(name)
        return held is not None and held.stands and held.shelved_until_s is None
