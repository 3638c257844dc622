"""Where things are kept. BENCHCTL_HOME, when set, holds them all; else the system's own places are used."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import platformdirs

if TYPE_CHECKING:
    from benchctl.models.job import Job


def _home() -> Path | None:
    home = os.environ.get("BENCHCTL_HOME")
    return Path(home) if home else None


def logbook_folder(asked: str | None, *, simulated: bool, job: Job | None = None) -> Path:
    """The folder of the logbook: the one asked for, else the job's own, else one for all.

    Rehearsals on the simulated bench go to a folder apart from the work.
    """
    if asked is not None:
        return Path(asked)
    if job is not None and job.logbook is not None:
        return Path(job.logbook) / "rehearsal" if simulated else Path(job.logbook)
    data = _home() or Path(platformdirs.user_data_path("benchctl", appauthor=False))
    return data / ("rehearsal" if simulated else "logbook")


def state_folder() -> Path:
    """Where crash reports and what the watcher has learned are kept."""
    home = _home()
    return home / "state" if home else Path(platformdirs.user_state_path("benchctl", appauthor=False))
