"""`benchctl check` on a served bench: what it prints, learns and returns."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from benchctl.models.bench_config import configured_bench
from benchctl.tui.calls import PATTERNS
from benchctl.tui.sound import NoSound
from tests.cli.served import Answer, Shell, one_sentence, served, stepped

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(os.name == "nt", reason="a pseudo-terminal is needed, which Windows has not"),
]

NAMES = [
    "port",
    "board",
    "protocol version",
    "settings",
    "table sensor",
    "lap sensor",
    "load",
    "pedal",
    "emergency-stop contact",
    "stop function",
]


def verdicts(out: str) -> dict[str, str]:
    """Name and verdict of each JSON line."""
    lines = [json.loads(line) for line in out.splitlines()]
    return {line["name"]: line["verdict"] for line in lines}


def test_a_check_with_a_confirmed_turn(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Turned by the person's word: all that turns is right, exit 0, bench.toml learned, the table at rest."""
    port = str(tmp_path / "port")
    with stepped(Path(port), monkeypatch) as bench:
        person = Answer("Type run to confirm", "run\n")
        assert shell.run("check", "--port", port, "--turn", "--learn", "--json", typed=person) == 0
        assert bench.plant.table_rpm == 0.0
        assert bench.board.state == "disarmed"
    found = verdicts(shell.out)
    assert list(found) == NAMES
    assert {name for name, verdict in found.items() if verdict == "not tried"} == {
        "pedal",
        "emergency-stop contact",
    }
    learned = configured_bench()
    assert learned is not None
    assert (learned.port, learned.board.table_edges_per_turn, learned.board.ceiling_rpm) == (port, 24, 45.0)


def test_unconfirmed_is_refused(shell: Shell, tmp_path: Path) -> None:
    """--turn without the word: exit 2 in one sentence, the lines printed, the table never turned."""
    with served(tmp_path / "port") as bench:
        assert shell.run("check", "--port", str(tmp_path / "port"), "--turn", "--seconds", "0") == 2
        assert bench.plant.table_rpm == 0.0
        assert bench.board.controller.motion.run_ms == 0
    assert "was not confirmed" in shell.err
    assert [line.split("  ")[0] for line in shell.out.splitlines()] == NAMES


def test_something_wrong_is_3(shell: Shell, tmp_path: Path) -> None:
    """An emergency stop that reads pressed all the time: WRONG, exit 3; progress on standard error only."""
    with served(tmp_path / "port", "estop@0") as bench:
        assert bench is not None
        assert shell.run("check", "--port", str(tmp_path / "port"), "--seconds", "0.5") == 3
    wrong = [line for line in shell.out.splitlines() if "WRONG" in line]
    assert len(wrong) == 1
    assert wrong[0].startswith("emergency-stop contact")
    assert "turn table and lap by hand" in shell.err
    assert "turn table and lap by hand" not in shell.out


def test_no_port_is_4(shell: Shell, tmp_path: Path) -> None:
    """A port that is not there: its line says why, the rest is not tried, exit 4."""
    assert shell.run("check", "--port", str(tmp_path / "nowhere"), "--json") == 4
    found = verdicts(shell.out)
    assert found.pop("port") == "WRONG"
    assert set(found.values()) == {"not tried"}
    assert list(found) == NAMES[1:]


def test_nobody_behind_the_port_is_4(shell: Shell) -> None:
    """A port behind which nothing answers: board WRONG, exit 4, bench.toml not written."""
    far, near = os.openpty()
    try:
        assert shell.run("check", "--port", os.ttyname(near), "--learn") == 4
    finally:
        os.close(far)
        os.close(near)
    assert "no answer" in shell.out
    assert configured_bench() is None


@pytest.mark.parametrize("seconds", ["-1", "nan", "1e309", "601"])
def test_silly_seconds(shell: Shell, seconds: str) -> None:
    """A time to watch that is none is refused before the port is opened."""
    assert shell.run("check", "--port", "x", "--seconds", seconds) == 2
    assert one_sentence(shell.err)
    assert "--seconds" in shell.err


@pytest.mark.parametrize(
    "words",
    [
        ("--rpm", "5"),
        ("--for", "20"),
        ("--turn", "--rpm", "61"),
        ("--turn", "--rpm", "nan"),
        ("--turn", "--for", "1"),
    ],
)
def test_silly_turning(shell: Shell, words: tuple[str, ...]) -> None:
    """A speed or a time of turning out of range, or without --turn, is refused before the port is opened."""
    assert shell.run("check", "--port", "x", *words) == 2
    assert one_sentence(shell.err)
    assert "--" in shell.err


def test_no_port_named(shell: Shell) -> None:
    """Without --port and without bench.toml the refusal says what to add."""
    assert shell.run("check") == 2
    assert "add --port PORT" in shell.err


def test_a_learned_port_is_found_from_anywhere(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A port named by a path relative to this folder is remembered by its whole path."""
    monkeypatch.chdir(tmp_path)
    with served(tmp_path / "port"):
        assert shell.run("check", "--port", "port", "--seconds", "0", "--learn", "--record", "wire") == 0
    learned = configured_bench()
    assert learned is not None
    assert learned.port == str(tmp_path / "port")
    assert '"way": "in"' in (tmp_path / "wire").read_text()


@pytest.mark.parametrize(
    ("played", "typed", "verdict", "status"),
    [
        (False, "yes\n", "not tried", 0),
        (True, "yes\nyes\n", "right", 0),
        (True, "yes\nno\n", "WRONG", 3),
        (True, "yes\n", "not tried", 0),
    ],
)
def test_the_computers_sound(
    shell: Shell,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    played: bool,
    typed: str,
    verdict: str,
    status: int,
) -> None:
    """--sound has the computer play every call too: right if heard; no device is a warning, exit 0."""
    tried: list[bytes] = []

    def play(pcm: bytes) -> None:
        tried.append(pcm)
        if not played:
            raise NoSound("no sound device (none found)")

    monkeypatch.setattr("benchctl.tui.sound.play_samples", play)
    monkeypatch.setattr("benchctl.tui.sound.speaker", list)
    with stepped(tmp_path / "port", monkeypatch):
        words = ("check", "--port", str(tmp_path / "port"), "--seconds", "0", "--sound", "--json")
        assert shell.run(*words, typed=typed) == status
    found = verdicts(shell.out)
    assert found["buzzer and lamp"] == "right"
    assert found["computer's sound"] == verdict
    assert len(tried) == len(PATTERNS)
    assert played or "warning: " in shell.out
