"""A shell of the test's own home, for commands that talk to a port."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.served import Shell


@pytest.fixture
def shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shell:
    """The command line with BENCHCTL_HOME in a fresh folder."""
    monkeypatch.setenv("BENCHCTL_HOME", str(tmp_path / "home"))
    return Shell(capsys, monkeypatch)
