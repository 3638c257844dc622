"""Where things are kept. BENCHCTL_HOME, when set, holds them all; else the system's own places are used."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Literal

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
    return (_home() or _of_the_system("data")) / ("rehearsal" if simulated else "logbook")


def state_folder() -> Path:
    """Where crash reports and what the watcher has learned are kept."""
    home = _home()
    return home / "state" if home else _of_the_system("state")


def _of_the_system(what: Literal["data", "state"]) -> Path:
    """Where the system keeps a user's data or state; imported only where it is asked, since it takes time."""
    import platformdirs

    place = platformdirs.user_data_path if what == "data" else platformdirs.user_state_path
    return Path(place("benchctl", appauthor=False))
