"""preferences.toml: kept, read back, refused in one sentence; an option wins over the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.cli import _preferences
from benchctl.errors import BadInput
from benchctl.models.preferences import (
    THEMES,
    UNITS,
    Preferences,
    keep_preferences,
    preferences,
    preferences_path,
)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home of the program's own."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path))
    return tmp_path


def test_metric_and_the_terminals_ground_unless_chosen(home: Path) -> None:
    """Where nothing is kept and nothing asked, units are metric and the terminal keeps its ground."""
    assert preferences() == Preferences(units="metric", theme="terminal")


def test_what_was_chosen_is_there_the_next_time(home: Path) -> None:
    """What is kept is read back, and an option of the command line wins for one run."""
    path = keep_preferences(Preferences(units="inch", theme="light"))
    assert path == home / "preferences.toml"
    assert preferences() == Preferences(units="inch", theme="light")
    assert preferences("metric", None) == Preferences(units="metric", theme="light")
    assert preferences() == Preferences(units="inch", theme="light")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('units = "furlong"', "units: 'furlong' is not known; use 'metric' or 'inch'"),
        ('unit = "inch"', "unit: unknown key; check its spelling or remove it"),
        ("units = ", "cannot be read"),
    ],
)
def test_a_wrong_file_is_refused_in_one_sentence(home: Path, text: str, words: str) -> None:
    """The sentence names the file, the key, the value and what would be taken."""
    preferences_path().write_text(text)
    with pytest.raises(BadInput) as refused:
        preferences()
    assert words in str(refused.value)
    assert str(preferences_path()) in str(refused.value)


def test_a_folder_that_cannot_be_written_is_named(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keeping where nothing can be written raises with the path."""
    (home / "file").write_text("")
    monkeypatch.setenv("BENCHCTL_HOME", str(home / "file"))
    with pytest.raises(BadInput, match=r"cannot write .*preferences\.toml"):
        keep_preferences(Preferences())


def test_the_options_offer_what_the_model_takes() -> None:
    """The command line, which loads no models, names the same units and themes."""
    choices = {action.dest: action.choices for action in _preferences()._actions}
    assert choices == {"units": UNITS, "theme": THEMES}
