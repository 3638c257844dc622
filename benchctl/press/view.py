"""A cold press at one moment, as the faces show it."""

from __future__ import annotations

from typing import NamedTuple

from benchctl.press.states import On, State


class PressView(NamedTuple):
    """A press at one moment, for the faces. Seconds, metres, kilograms, degrees Celsius."""

    state: State
    left_s: float
    """Until the shift or the end; 0 while a person is waited for."""
    waited_s: float
    """How long the person has been waited for."""
    next_what: str
    place_m: float
    shift_by_m: float | None
    load_kg: float
    length_s: float
    rewet_in_s: float
    over_s: float
    temperature_c: float
    allowed: frozenset[On]
    drift: str = ""
    """A sentence where the room has drifted too far since the start."""
