"""The engine that runs the table of a cold press.

`handle(event, now_s)` follows one row of `states.TABLE`; `tick(now_s)` raises what is due by time alone. Both
give back what happened, as names with details, and change nothing else. `now_s` is any clock in seconds that
does not run backwards; best one that also runs while the computer sleeps, since the pitch flows on.

Each place gets its own time: the second counts from the shift, whenever that was.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from benchctl.errors import IllegalEvent
from benchctl.press.case import PressCase
from benchctl.press.states import LIMITS, TABLE, On, State


class Happened(NamedTuple):
    """Something to tell: its name and details."""

    event: str
    details: dict[str, Any]


class PressEngine:
    """One cold press, from the moment the loaded lap lies on the glass."""

    def __init__(self, case: PressCase, now_s: float) -> None:
        self.case = case
        self.state = State.FIRST
        self.started_s = self.entered_s = self.last_wetted_s = now_s
        self.wettings = 0
        self.outcome: str | None = None
        """completed, ended_early or not_lifted; None while it runs."""
        self.shifted_s: float | None = None
        self.up_s: float | None = None
        """When its time was up."""
        self.closed_s: float | None = None
        self._rewet_called = False
        self._acts: dict[str, Callable[[On, float], list[Happened]]] = {
            "call": self._call,
            "shift": self._shift,
            "wet": self._wet,
            "complete": self._complete,
            "end_early": self._end_early,
            "leave": self._leave,
        }

    def slept(self, by_s: float) -> None:
        """The clock of `now_s` stood for `by_s` seconds while the lap lay on."""
        self.started_s -= by_s
        self.entered_s -= by_s
        self.last_wetted_s -= by_s
        self.shifted_s = None if self.shifted_s is None else self.shifted_s - by_s
        self.up_s = None if self.up_s is None else self.up_s - by_s

    @property
    def closed(self) -> bool:
        return self.state is State.CLOSED

    def allows(self, event: On) -> bool:
        """Whether `event` may happen now; a shift only where one is due at all."""
        return (self.state, event) in TABLE and not (event is On.SHIFTED and self.case.shift_at_s is None)

    def handle(self, event: On, now_s: float) -> list[Happened]:
        """Follow `event`. IllegalEvent names the state where it is not listed; nothing changes then."""
        if not self.allows(event):
            raise IllegalEvent(f"a press that is {self.state} does not allow '{event}'")
        row = TABLE[self.state, event]
        if row.to is not self.state:
            self.state, self.entered_s = row.to, now_s
        return self._acts[row.act](event, now_s)

    def tick(self, now_s: float) -> list[Happened]:
        """Raise what is due by time alone."""
        told: list[Happened] = []
        for event in (On.SHIFT_CALL, On.TIME_UP, On.LIMIT):
            if self.allows(event) and self._due(event, now_s):
                told += self.handle(event, now_s)
        if not self._rewet_called and self.rewet_due(now_s):
            self._rewet_called = True
            told.append(Happened("rewet_called", {}))
        return told

    def _due(self, event: On, now_s: float) -> bool:
        spent_s, case = now_s - self.entered_s, self.case
        if event is On.SHIFT_CALL:
            return case.shift_at_s is not None and spent_s >= case.shift_at_s
        if event is On.TIME_UP:
            return spent_s >= (case.second_s if self.state is State.SECOND else case.length_s)
        limit_s = self.limit_s()
        return limit_s is not None and spent_s >= limit_s

    def limit_s(self) -> float | None:
        """How long the present state may wait for a person, in seconds; None where it does not."""
        limit = LIMITS.get(self.state)
        return None if limit is None else limit.seconds_of(self.case)

    def rewet_due(self, now_s: float) -> bool:
        """Whether water is due at the lap's edge."""
        return not self.closed and now_s - self.last_wetted_s >= self.case.rewet_every_s

    def left_s(self, now_s: float) -> float:
        """Until the next thing that time brings: the shift, or the end. 0 while a person is waited for."""
        case, spent_s = self.case, now_s - self.entered_s
        if self.state is State.FIRST:
            return max(0.0, (case.length_s if case.shift_at_s is None else case.shift_at_s) - spent_s)
        return max(0.0, case.second_s - spent_s) if self.state is State.SECOND else 0.0

    def over_s(self, now_s: float) -> float:
        """How long the loaded lap has lain on the glass since its time was up."""
        end_s = now_s if self.closed_s is None else self.closed_s
        return 0.0 if self.up_s is None else end_s - self.up_s

    def sums(self, now_s: float) -> dict[str, Any]:
        """How far it is, in the names of the record."""
        end_s = now_s if self.closed_s is None else self.closed_s
        first_end_s = end_s if self.shifted_s is None else self.shifted_s
        return {
            "length_s": round(end_s - self.started_s, 1),
            "first_place_s": round(first_end_s - self.started_s, 1),
            "second_place_s": round(end_s - first_end_s, 1),
            "shifted": self.shifted_s is not None,
            "wettings": self.wettings,
            "over_s": round(self.over_s(now_s), 1),
        }

    # Acts

    def _call(self, event: On, now_s: float) -> list[Happened]:
        if self.state is State.SHIFT:
            return [Happened("shift_called", {"by_m": self.case.shift_by_m})]
        self.up_s = now_s
        return [Happened("press_time_up", {})]

    def _shift(self, event: On, now_s: float) -> list[Happened]:
        self.shifted_s = now_s
        return [Happened("shifted", {"place_m": self.case.second_place_m}), *self._wet(event, now_s)]

    def _wet(self, event: On, now_s: float) -> list[Happened]:
        self.last_wetted_s, self._rewet_called = now_s, False
        self.wettings += 1
        return [Happened("wetted", {})]

    def _complete(self, event: On, now_s: float) -> list[Happened]:
        return self._close("completed", now_s)

    def _end_early(self, event: On, now_s: float) -> list[Happened]:
        return self._close("ended_early", now_s)

    def _leave(self, event: On, now_s: float) -> list[Happened]:
        return self._close("not_lifted", now_s)

    def _close(self, outcome: str, now_s: float) -> list[Happened]:
        self.outcome, self.closed_s = outcome, now_s
        return [Happened("press_ended", {"outcome": outcome})]
