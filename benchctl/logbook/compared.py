"""The question how mirrors compare: how long each took, and whether the last one is ahead or behind.

Two mirrors are compared where glass and last grain are the same, at the same worst score: by the work done
for each square metre of glass, which goes with the mean depth removed (Preston 1927, from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Any

from benchctl import units
from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import NAMELESS, Answer, mirrors, of_mirror, plain, totals, work_of
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.models.json_values import as_number

SCORES = (("pits_mean", "pits"), ("grey", "grey"))
"""The score by which two mirrors are compared: pits where both have them, they tell longest."""


@dataclass(frozen=True)
class Job:
    """One mirror's segments and looks in one logbook."""

    mirror: str
    segments: Sequence[Segment]
    looks: Sequence[Entry]

    @property
    def sort(self) -> tuple[str, float | None]:
        """Glass and last grain; mirrors of one sort are compared."""
        fields = self.segments[-1].fields
        return str(fields.get("glass") or ""), as_number(fields.get("last_abrasive_m"))

    @property
    def area_m2(self) -> float | None:
        """The polished area."""
        fields = self.segments[-1].fields
        outer, inner = as_number(fields.get("mirror_radius_m")), as_number(fields.get("mirror_hole_radius_m"))
        return None if outer is None else math.pi * (outer**2 - (inner or 0.0) ** 2)

    def row(self) -> dict[str, Any]:
        """For programs."""
        last = self.looks[-1] if self.looks else None
        glass, grain = self.sort
        return (
            {"mirror": self.mirror, "glass": glass, "last_abrasive_m": grain}
            | {"first_at": self.segments[0].started_at, "last_at": self.segments[-1].ended_at}
            | totals(self.segments)
            | {"worst_grey": _worst(last, "grey"), "worst_pits": _worst(last, "pits_mean")}
        )

    def course(self, score: str) -> list[tuple[float, float]]:
        """Work for a square metre so far and the worst score, at each look that has it."""
        if not self.area_m2:
            return []
        ends = [one.n for one in self.segments]
        sums = [0.0, *accumulate(work_of(one) for one in self.segments)]
        return [
            (sums[bisect_right(ends, look.n)] / self.area_m2, worst)
            for look in self.looks
            if (worst := _worst(look, score)) is not None
        ]


def jobs(books: Sequence[Logbook]) -> list[Job]:
    """Every mirror of every logbook, in their order."""
    found = []
    for book in books:
        every, looks = segments(book), inspections(book)
        for mirror in mirrors(every):
            own = [one for one in every if one.fields.get("mirror", "") == mirror]
            found.append(Job(mirror, own, [look for look in looks if of_mirror(look, mirror)]))
    return found


def mirrors_compared(books: Sequence[Logbook], system: str = units.METRIC) -> Answer:
    """How long each mirror took so far, in this logbook and others, and how the last one of this compares."""
    found = jobs(books)
    rows = [one.row() for one in found]
    sentences = [
        f"{row['mirror'] or NAMELESS}: {row['polishing_h']:.2f} h, {row['useful_turns']:.0f} useful turns, "
        f"work {units.show(row['work_n_m_turns'], units.TORQUE, system, 0)} turns, "
        f"{row['first_at'][:10]} to {row['last_at'][:10]}; "
        f"worst grey {plain(row['worst_grey'])}, worst pits {plain(row['worst_pits'])} at the last look."
        for row in rows
    ]
    here = found[: len(jobs(books[:1]))]
    if here:
        now = max(here, key=lambda one: one.segments[-1].n)
        sentences += [_beside(now, one) for one in found if one is not now and _alike(one, now)]
    return Answer(sentences or ["No segment yet."], rows)


def _alike(one: Job, other: Job) -> bool:
    return one.sort == other.sort and one.sort[0] != ""


def _beside(now: Job, old: Job) -> str:
    """How much work the one took to where the other is, at the same worst score."""
    head = f"{now.mirror or NAMELESS} beside {old.mirror or NAMELESS} (same glass and grain)"
    for score, words in SCORES:
        mine, theirs = now.course(score), old.course(score)
        if not mine or not theirs:
            continue
        work, worst = mine[-1]
        needed = work_to(theirs, worst)
        if needed is None or needed <= 0 or work <= 0:
            continue
        share = work / needed - 1
        verdict = "level with it" if abs(share) < 0.1 else "ahead" if share < 0 else "behind"
        return (
            f"{head}: at worst {words} {worst:g} it has taken {share:+.0%} work for the area; {verdict}. "
            "Worst scores are judged in steps."
        )
    return f"{head}: cannot tell; no look of both with the same score."


def work_to(course: Sequence[tuple[float, float]], worst: float) -> float | None:
    """The work at which a course first came down to a score, between its looks by a straight line."""
    for (work, score), (later, lower) in pairwise(course):
        if score >= worst >= lower:
            return later if score == lower else work + (score - worst) / (score - lower) * (later - work)
    return None


def _worst(look: Entry | None, name: str) -> float | None:
    """The worst score of all zones; None where a zone has too many pits to count, or none is scored."""
    if look is None:
        return None
    rows = zone_rows(look.id, look.at, look.fields)
    if name == "pits_mean" and any(row.get("pits_too_many") for row in rows):
        return None
    return max((value for row in rows if (value := as_number(row.get(name))) is not None), default=None)
