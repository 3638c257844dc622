"""What a person prefers to see: units and theme. Kept in preferences.toml, beside bench.toml.

Both change what is shown and nothing else; JSON, job files and the logbook are in SI whatever is preferred.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, Literal, get_args

from pydantic import ValidationError

from benchctl.errors import BadInput
from benchctl.models.config_place import config_path
from benchctl.models.quantities import Record
from benchctl.models.validation import first_complaint
from benchctl.models.whole_file import replace_whole

Units = Literal["metric", "inch"]
Theme = Literal["terminal", "dark", "light"]
UNITS: tuple[str, ...] = get_args(Units)
THEMES: tuple[str, ...] = get_args(Theme)


class Preferences(Record):
    """Millimetres and kilograms or inches and pounds; the terminal's own ground, a dark or a light one."""

    units: Units = "metric"
    theme: Theme = "terminal"


def preferences_path() -> Path:
    """Where preferences.toml lies."""
    return config_path().with_name("preferences.toml")


def preferences(units: str | None = None, theme: str | None = None) -> Preferences:
    """What was asked for on the command line, else what is kept, else metric in the terminal's own colours.

    BadInput where the file cannot be read.
    """
    path = preferences_path()
    asked = {key: value for key, value in (("units", units), ("theme", theme)) if value is not None}
    try:
        kept: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        return Preferences.model_validate(kept | asked)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadInput(f"{path}: cannot be read: {error}; correct it or remove it") from error
    except ValidationError as error:
        raise BadInput(f"{path}: {first_complaint(error)}") from error


def keep_preferences(chosen: Preferences) -> Path:
    """Write preferences.toml whole. BadInput where the folder cannot be written."""
    path = preferences_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lines = [f'{key} = "{value}"' for key, value in chosen.model_dump().items()]
        replace_whole(path, ("\n".join(lines) + "\n").encode("utf-8"))
    except OSError as error:
        reason = (error.strerror or "not possible").lower()
        raise BadInput(f"cannot write {path}: {reason}; check the folder's rights") from error
    return path
