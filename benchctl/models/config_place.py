"""Where the bench's own file lies; apart from the file's model, which takes long to import."""

from __future__ import annotations

import os
from pathlib import Path


def config_path() -> Path:
    """Where bench.toml lies: in BENCHCTL_HOME when that is set, else in the user's configuration folder."""
    home = os.environ.get("BENCHCTL_HOME")
    if home:
        return Path(home) / "bench.toml"
    import platformdirs

    return Path(platformdirs.user_config_path("benchctl", appauthor=False)) / "bench.toml"
