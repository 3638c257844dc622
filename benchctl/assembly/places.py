"""Where things are kept. BENCHCTL_HOME, when set, holds them all; else the system's own places are used."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs


def _home() -> Path | None:
    home = os.environ.get("BENCHCTL_HOME")
    return Path(home) if home else None


def logbook_folder(asked: str | None, *, simulated: bool) -> Path:
    """The folder of the logbook: the one asked for, or by default one for work and one for rehearsal."""
    if asked is not None:
        return Path(asked)
    data = _home() or Path(platformdirs.user_data_path("benchctl", appauthor=False))
    return data / ("rehearsal" if simulated else "logbook")


def state_folder() -> Path:
    """Where crash reports and what the watcher has learned are kept."""
    home = _home()
    return home / "state" if home else Path(platformdirs.user_state_path("benchctl", appauthor=False))
