"""What the host's rules look at in one step, and what a rule can find."""

from __future__ import annotations

from typing import NamedTuple

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
    load_limit_percent: float | None = None
    """The load at which the board takes the power off; None until it has told."""


class Finding(NamedTuple):
    """What a rule found: the name of an alarm, and what must be done beside telling it.

    `trip` stops by ramp at once, for the reason it names. `wet_and_stop` creeps, calls for water, and stops
    once the work is wetted. `ease_rpm` goes slower by itself, `offer_rpm` is only offered.
    """

    name: str
    detail: str = ""
    trip: str | None = None
    wet_and_stop: str | None = None
    ease_rpm: float | None = None
    offer_rpm: float | None = None
