"""No socket is opened by anything that the program does on its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

WATCHED = """
import sys
seen = []
sys.addaudithook(lambda event, args: seen.append(event) if event.startswith("socket.") else None)
from benchctl.cli import main
for words in {commands!r}:
    main(words)
{planted}
import json
print(json.dumps(seen), file=sys.stderr)
"""


def sockets(commands: list[list[str]], planted: str = "") -> list[str]:
    """The events of sockets while commands run in a process of their own (Python's audit events)."""
    text = WATCHED.format(commands=commands, planted=planted)
    done = subprocess.run(
        [sys.executable, "-c", text], capture_output=True, text=True, timeout=110, check=True
    )
    seen: list[str] = json.loads(done.stderr.splitlines()[-1])
    return seen


@pytest.mark.timeout(240)
def test_no_socket_is_opened(tmp_path: Path) -> None:
    """A segment, its plan, list, report and export open no socket: no telemetry, no look for updates."""
    log = str(tmp_path / "log")
    commands = [
        ["run", "demo", "--headless", "--simulated", "--pace", "max", "--minutes", "1.5", "--logbook", log],
        ["plan", "demo"],
        ["ports"],
        ["logbook", "list", "--logbook", log],
        ["logbook", "verify", "--logbook", log],
        ["logbook", "export", "--csv", str(tmp_path / "out.csv"), "--logbook", log],
        ["logbook", "report", "--html", str(tmp_path / "out.html"), "--logbook", log],
    ]
    assert sockets(commands) == []
    assert (tmp_path / "out.html").exists()


def test_a_socket_would_be_seen() -> None:
    """The watch sees a socket that is opened."""
    assert "socket.__new__" in sockets([], "import socket; socket.socket()")
