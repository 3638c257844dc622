"""What a recorded session was begun with: enough to build its runner again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.models.job_fields import fields_of_job, job_of_fields
from benchctl.session.bookkeeping import SegmentFacts


class BegunWith(NamedTuple):
    """The job and the facts of its first segment, the link's owner token, what the watcher had learned."""

    facts: SegmentFacts
    owner: int
    memory: dict[str, object]

    @property
    def job(self) -> Job:
        return self.facts.job

    def told(self) -> dict[str, object]:
        """As a line of a recording has it."""
        return {
            "job": fields_of_job(self.job),
            "simulated": self.facts.simulated,
            "mark": self.facts.mark,
            "seed": self.facts.seed,
            "owner": self.owner,
            "memory": self.memory,
        }


def begun_with(told: Mapping[str, Any], where: str) -> BegunWith:
    """From a line of a recording; BadInput with `where` if it does not hold what is needed."""
    job = job_of_fields(told.get("job"), f"{where}, job")
    mark, seed, memory = told.get("mark"), told.get("seed"), told.get("memory", {})
    owner = told.get("owner")
    numbers = all(isinstance(value, int | None) for value in (mark, seed))
    if not numbers or not isinstance(owner, int) or not isinstance(memory, dict):
        raise BadInput(f"{where}: does not say what the segment was begun with; it is damaged there")
    return BegunWith(SegmentFacts(job, bool(told.get("simulated")), mark, seed), owner, memory)
