"""What one cold press is to be: how long, under what, and where the lap lies before and after the shift."""

from __future__ import annotations

from dataclasses import dataclass

from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.models.recipe import PressPlan
from benchctl.models.setup import STANDARD_GRAVITY_M_S2

TURN_DEG = 90.0
"""How far the lap is turned at the shift, so that no facet stays over the same glass (common practice)."""


@dataclass(frozen=True)
class PressCase:
    """A press worked out for one job. Seconds, kilograms of weights, newtons with the lap, metres.

    Places are distances of the lap's centre from the mirror's. Without a shift `shift_at_s`, `shift_by_m` and
    `second_place_m` are None; `why_shift` says in words what calls for one.
    """

    mirror: str
    lap: str
    length_s: float
    load_kg: float
    load_n: float
    rewet_every_s: float
    first_place_m: float
    shift_at_s: float | None = None
    shift_by_m: float | None = None
    second_place_m: float | None = None
    why_shift: str = ""

    @property
    def second_s(self) -> float:
        """How long the lap is to lie at its second place."""
        return 0.0 if self.shift_at_s is None else self.length_s - self.shift_at_s


def press_case(job: Job, length_s: float | None = None, load_kg: float | None = None) -> PressCase:
    """The press that a job's file asks for, with another length or load where given (seconds, kilograms).

    A shift is due where the lap lies over the mirror's hole or past its rim, or where the file names its
    time; at the file's time, or at half time where none is named or the length is another. BadInput out of
    range.
    """
    plan = _changed(job, length_s, load_kg)
    mirror, lap = job.mirror, job.lap
    first = job.setup.post_offset_m if plan.place_m is None else plan.place_m
    if first >= lap.radius_m + mirror.radius_m:
        raise BadInput(f"press.place: {first * 1000:g} mm puts the lap beside the mirror; move it inward")
    hole = mirror.hole_diameter_m if first < lap.radius_m + mirror.hole_radius_m else 0.0
    overhang = max(0.0, first + lap.radius_m - mirror.radius_m)
    whole = PressCase(
        mirror=mirror.name,
        lap=lap.name,
        length_s=plan.length_s,
        load_kg=plan.load_kg,
        load_n=(plan.load_kg + lap.mass_kg) * STANDARD_GRAVITY_M_S2,
        rewet_every_s=plan.rewet_every_s,
        first_place_m=first,
    )
    if not hole and not overhang and plan.shift_at_s is None:
        return whole
    by = max(hole, overhang) if plan.shift_by_m is None else plan.shift_by_m
    reasons = [words for there, words in ((hole, "over the hole"), (overhang, "past the rim")) if there]
    return PressCase(
        **vars(whole)
        | {
            "shift_at_s": plan.length_s / 2 if plan.shift_at_s is None else plan.shift_at_s,
            "shift_by_m": by,
            "second_place_m": abs(first - by),
            "why_shift": " and ".join(reasons) or "as the file asks",
        }
    )


def _changed(job: Job, length_s: float | None, load_kg: float | None) -> PressPlan:
    """The file's plan with what was asked for instead."""
    change: dict[str, float | None] = {}
    if length_s is not None and length_s != job.press.length_s:
        change |= {"length": length_s, "shift_at": None}
    if load_kg is not None:
        change["load"] = load_kg
    return job.with_press(change).press if change else job.press
