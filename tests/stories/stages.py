"""Puts a whole bench on the stage for a story: host, link, board and plant on simulated time."""

from __future__ import annotations

from pathlib import Path

from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.stepped import Stepper
from benchctl.models.job import Job, demo_job
from benchctl.models.segment_record import SegmentRecord
from benchctl.simulator.mishaps import parse_mishap
from benchctl.simulator.operator import Operator

Event = dict[str, object]


class Told:
    """A segment that was played to its end: what was told, the record, and the parts as they were left."""

    def __init__(
        self,
        folder: Path,
        *mishaps: str,
        job: Job | None = None,
        minutes: float | None = None,
        seed: int = 1,
        operator: str = "attentive",
    ) -> None:
        job = job or demo_job()
        self.events: list[Event] = []
        self.parts: Parts = build_simulated(
            job if minutes is None else job.with_minutes(minutes),
            folder,
            seed=seed,
            mishaps=[parse_mishap(text) for text in mishaps],
            stepped=True,
            listen=self.events.append,
        )
        self.stepper = Stepper(self.parts, Operator(operator, seed))

    def play(self) -> Told:
        """Play it to the end and close the logbook."""
        self.stepper.run()
        self.parts.close()
        return self

    @property
    def record(self) -> SegmentRecord:
        """The segment's record."""
        record = self.parts.runner.books.record
        assert record is not None
        return record

    def names(self) -> list[str]:
        """The events' names in order."""
        return [str(event["event"]) for event in self.events]

    def at(self, name: str) -> float:
        """When the first event of a name came, seconds since the table was told to turn."""
        return next(float(str(event["at_s"])) for event in self.events if event["event"] == name)
