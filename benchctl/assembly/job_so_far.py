"""A mirror's work so far, out of the logbook and into the planner: history, marks, earlier mirrors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import corrected, corrections, segments
from benchctl.models.job import Job
from benchctl.planner.carried import carried
from benchctl.planner.history import History
from benchctl.planner.mark_ledger import MarkLedger
from benchctl.planner.progress import Reckoning


@dataclass(frozen=True)
class SoFar:
    """One mirror's work: what was done and seen, the marks used, and the id of its last segment."""

    history: History
    ledger: MarkLedger
    last_segment: str

    @property
    def pass_ends_in(self) -> int:
        """Segments until the pass of marks ends; 0 where one has just ended."""
        now = self.ledger.now
        return now.ends_in if now.used else 0


def so_far(book: Logbook, job: Job) -> SoFar:
    """The work on the job's mirror, in the order of the logbook, corrections put in."""
    ends = {one.n: one for one in segments(book)}
    changes = corrections(book)
    history, ledger, last = History(job.mirror.name), MarkLedger(job.marks.count), ""
    for entry in book.entries:
        segment = ends.get(entry.n)
        fields = segment.fields if segment else corrected(entry, changes).fields
        if fields.get("mirror", job.mirror.name) not in ("", job.mirror.name):
            continue
        if segment:
            last = segment.id
        history.take(entry.kind, fields)
        ledger.take(entry.kind, fields)
    return SoFar(history, ledger, last)


def reckoning_of(job: Job, found: SoFar, books: Sequence[Logbook] = ()) -> Reckoning:
    """The job reckoned, with the coefficient carried from the earlier mirrors of these logbooks."""
    return Reckoning(job, found.history, carried(job, earlier_mirrors(job, books)))


def earlier_mirrors(job: Job, books: Sequence[Logbook]) -> list[tuple[Job, History]]:
    """Other mirrors of the same glass and compound, oldest first, as jobs like this one.

    A mirror is left out whose logbook does not say glass, compound, sizes and last abrasive.
    """
    found = []
    for book in books:
        for name, facts in _mirrors(book).items():
            other = _job_like(job, name, facts)
            if other is not None:
                found.append((other, so_far(book, other).history))
    return found


def _mirrors(book: Logbook) -> dict[str, dict[str, Any]]:
    """What the first segment of each mirror says of it."""
    facts: dict[str, dict[str, Any]] = {}
    for one in segments(book):
        facts.setdefault(str(one.fields.get("mirror", "")), one.fields)
    return facts


def _job_like(job: Job, name: str, facts: dict[str, Any]) -> Job | None:
    wanted = ("mirror_radius_m", "mirror_hole_radius_m", "lap_radius_m", "last_abrasive_m")
    sizes = [facts.get(key) for key in wanted]
    if name in ("", job.mirror.name) or not all(isinstance(one, int | float) for one in sizes):
        return None
    if (facts.get("glass"), facts.get("compound")) != (job.mirror.glass, job.charge.compound):
        return None
    radius, hole, lap, abrasive = (float(one or 0.0) for one in sizes)
    return job.model_copy(
        update={
            "mirror": job.mirror.model_copy(
                update={
                    "name": name,
                    "diameter_m": 2 * radius,
                    "hole_diameter_m": 2 * hole,
                    "last_abrasive_m": abrasive,
                }
            ),
            "lap": job.lap.model_copy(update={"diameter_m": 2 * lap}),
        }
    )
