"""The bench's own file, bench.toml: where the board is and which job the screen opens."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import platformdirs
from pydantic import Field, ValidationError

from benchctl.errors import BadInput
from benchctl.models.quantities import Record
from benchctl.models.validation import first_complaint


class BenchConfig(Record):
    """What `benchctl` without a command opens."""

    port: str = Field(min_length=1, max_length=300)
    job: str | None = Field(default=None, max_length=1000)


def config_path() -> Path:
    """Where bench.toml lies: in BENCHCTL_HOME when that is set, else in the user's configuration folder."""
    home = os.environ.get("BENCHCTL_HOME")
    folder = Path(home) if home else Path(platformdirs.user_config_path("benchctl", appauthor=False))
    return folder / "bench.toml"


def configured_bench() -> BenchConfig | None:
    """The configured bench, or None where there is no bench.toml. BadInput where it cannot be read."""
    path = config_path()
    if not path.exists():
        return None
    try:
        return BenchConfig.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInput(f"{path}: cannot be read: {error}; correct it or remove it") from error
    except ValidationError as error:
        raise BadInput(f"{path}: {first_complaint(error)}") from error
