"""The pieces of a table of states: where an event leads, and how long a state may last.

A table is a dictionary from (state, event) to a `Row`, and one from state to a `Limit`; an engine runs it,
tests walk it. What a table does not list is illegal.
"""

from __future__ import annotations

from typing import Generic, NamedTuple, TypeVar

State = TypeVar("State")


class Row(NamedTuple, Generic[State]):
    """Where an event leads, and the name of the engine's act that goes with it."""

    to: State
    act: str


class Limit(NamedTuple):
    """How long a state may last before its limit is an event: seconds, or the name of a field of the plan."""

    seconds: float | str
    why: str

    def seconds_of(self, plan: object) -> float:
        """The limit in seconds, looked up in `plan` where it is a field's name."""
        return float(getattr(plan, self.seconds)) if isinstance(self.seconds, str) else self.seconds
