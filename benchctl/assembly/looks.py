"""Looks at the glass of a running bench: kept with their segment, the one before, one that was put off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchctl.assembly.build import Parts
from benchctl.errors import BadInput
from benchctl.logbook.reader import read
from benchctl.logbook.segments import inspection_due, inspections
from benchctl.models.inspection import Inspection
from benchctl.models.job import Job
from benchctl.models.validation import made

DISK_PATIENCE_S = 1.0


def look_due(parts: Parts) -> str:
    """In a sentence that the glass was not looked at after the last segment; empty where it was."""
    segment = inspection_due(read(parts.keeper.folder, quick=True))
    return "" if segment is None else f"Glass not looked at since segment {segment.number}: key 3 asks again"


def last_look(parts: Parts) -> dict[str, Any] | None:
    """The last look at this mirror, with the time it was kept at; None where there was none."""
    mirror = parts.runner.facts.job.mirror.name
    looks = inspections(read(parts.keeper.folder, quick=True))
    own = [look for look in looks if look.fields.get("mirror") in (mirror, "", None)]
    return own[-1].flat() if own else None


def save_look(parts: Parts, look: Mapping[str, Any]) -> str:
    """Keep a look with the segment it belongs to; one sentence, 'Not kept' first where it is refused."""
    job = parts.runner.facts.job
    names = {"segment": _segment(parts), "mirror": job.mirror.name}
    try:
        found = made(lambda: Inspection.model_validate(names | dict(look), context={"si": True}))
        _on_the_mirror(found, job)
    except BadInput as refusal:
        return f"Not kept: {refusal}"
    ticket = parts.runner.journal.keep("inspection", found.model_dump(mode="json"))
    if ticket.wait(DISK_PATIENCE_S):
        return "Kept in the logbook."
    return "The disk does not take it yet; it waits in memory and is written as soon as that goes."


def _segment(parts: Parts) -> str:
    opening = parts.runner.books.opening
    if opening is not None:
        return opening.record_id
    due = inspection_due(read(parts.keeper.folder, quick=True))
    return "" if due is None else due.id


def _on_the_mirror(look: Inspection, job: Job) -> None:
    rim = job.mirror.radius_m
    for one in look.blemishes:
        if one.radius_m > rim:
            raise BadInput(
                f"a {one.kind} {one.radius_m * 1000:.0f} mm from the centre lies beside the mirror; "
                f"its rim is at {rim * 1000:.0f} mm: correct the radius"
            )
