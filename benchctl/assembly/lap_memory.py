"""What earlier segments taught the watcher, found in the logbook, for the very same set-up only."""

from __future__ import annotations

from typing import Any

from benchctl.errors import BadInput
from benchctl.lapwatch import LapWatch, WatchSettings
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import segments
from benchctl.models.job import Job


def learned(book: Logbook, job: Job, *, simulated: bool) -> dict[str, object]:
    """The memory of the last completed segment with this mirror, lap, load and offset; empty where none was.

    A change of lap, weight or offset makes another set-up, so it begins with nothing.
    """
    wanted: dict[str, Any] = {
        "outcome": "completed",
        "mirror": job.mirror.name,
        "lap": job.lap.name,
        "load_n": round(job.load_n, 3),
        "post_offset_m": job.setup.post_offset_m,
        "simulated": simulated,
    }
    for one in reversed(segments(book)):
        fields = one.fields
        if all(fields.get(key) == value for key, value in wanted.items()):
            memory = fields.get("lap_memory")
            return dict(memory) if isinstance(memory, dict) else {}
    return {}


def watcher(settings: WatchSettings, memory: dict[str, object]) -> LapWatch:
    """A watcher with its memory; one that does not fit these sensors is left aside."""
    try:
        return LapWatch.restored(settings, memory) if memory else LapWatch(settings)
    except (BadInput, TypeError, ValueError, OverflowError):
        return LapWatch(settings)
