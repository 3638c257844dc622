"""How a command ends where its input or its output is not to be had: one sentence, exit 2, no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchctl.cli import main
from tests.cli.served import Shell

linux = pytest.mark.skipif(sys.platform != "linux", reason="needs /dev/full")
LONG = "x" * 5000


def benchctl(*words: str, home: Path, **how: object) -> subprocess.CompletedProcess[bytes]:
    """The command in a process of its own."""
    return subprocess.run(  # type: ignore[call-overload, no-any-return]
        [sys.executable, "-m", "benchctl", *words],
        stderr=subprocess.PIPE,
        timeout=60,
        check=False,
        env={**os.environ, "BENCHCTL_HOME": str(home), "PYTHONUNBUFFERED": ""} | dict(how.pop("env", {})),  # type: ignore[call-overload]
        **how,
    )


@linux
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [("job", "show", "demo"), ("run", "--list-mishaps")])
def test_a_full_disk_is_one_sentence(tmp_path: Path, words: tuple[str, ...], unbuffered: str) -> None:
    """Linux's /dev/full (full(4)) answers every write with ENOSPC."""
    with Path("/dev/full").open("wb") as full:
        done = benchctl(*words, home=tmp_path, stdout=full, env={"PYTHONUNBUFFERED": unbuffered})
    assert done.returncode == 2
    assert done.stderr.decode().splitlines() == [
        "benchctl: cannot write the output: no space left on device; make room or write it elsewhere"
    ]


@pytest.mark.parametrize("words", [("job", "show", "demo"), ("run", "--list-mishaps"), ("--help",)])
def test_a_reader_that_has_gone_is_no_fault(tmp_path: Path, words: tuple[str, ...]) -> None:
    """`benchctl ... | head -1`: nothing on standard error, exit 0."""
    reading, writing = os.pipe()
    os.close(reading)
    done = benchctl(*words, home=tmp_path, stdout=writing)
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


def test_what_the_terminal_cannot_show_is_a_question_mark(tmp_path: Path) -> None:
    """An encoding without arrows and degrees ends no command."""
    done = benchctl("plan", "demo", home=tmp_path, stdout=subprocess.PIPE, env={"PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"REMOVAL" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("plan", LONG),
        ("job", "new", LONG),
        ("contact", LONG),
        ("decode", LONG),
        ("logbook", "list", "--logbook", LONG),
        ("logbook", "verify", "--logbook", LONG),
        ("logbook", "note", "x", "--logbook", LONG),
    ],
)
def test_a_name_too_long_for_a_file_is_refused(shell: Shell, words: tuple[str, ...]) -> None:
    """In a sentence that is not as long as the name."""
    assert shell.run(*words) == 2
    assert len(shell.err) < 1100
    assert "Traceback" not in shell.err


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "\x1b[2J"),
        ("run", "\x1b[2J", "--headless", "--simulated"),
        ("contact", "\x1b[2J"),
        ("decode", "\x1b[2J"),
        ("logbook", "list", "--logbook", "\x1b[2J"),
    ],
)
def test_a_name_is_shown_without_its_control_characters(shell: Shell, words: tuple[str, ...]) -> None:
    """What was typed cannot move the terminal's cursor or clear it."""
    assert shell.run(*words) == 2
    assert "?[2J" in shell.err
    assert "\x1b" not in shell.err


@linux
@pytest.mark.parametrize("command", ["plan", "contact"])
def test_a_file_without_an_end_is_refused(shell: Shell, command: str) -> None:
    """No more is read than such a file may have."""
    assert shell.run(command, "/dev/zero") == 2
    assert "too large" in shell.err


def test_an_export_without_a_name_is_refused(shell: Shell, tmp_path: Path) -> None:
    """An empty file name is a slip, no wish for standard output."""
    assert shell.run("run", "demo", "--headless", "--simulated", "--pace", "max", "--minutes", "2") == 0
    assert shell.run("logbook", "export", "--csv", "", "--rehearsal") == 2
    assert "Traceback" not in shell.err


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("frobnicate",), "'frobnicate' is not known; there is run, simulate"),
        (("plan",), "JOB.toml is missing; see `benchctl plan --help`"),
        (("plan", "demo", "extra"), "'extra' means nothing here"),
        (("run", "demo", "--pace", "fast"), "--pace: 'fast' is not known; give one of live, max"),
        (("run", "demo", "--minutes", "0x10"), "--minutes: '0x10' is not a number"),
        (("run", "demo", "--seed", "1.5"), "--seed: '1.5' is not a whole number"),
        (("run", "demo", "--seed"), "--seed needs a value"),
        (("run", "demo", "--simulated", "--port", "x"), "--port does not go with"),
        (("logbook", "export"), "one of --csv --json is missing"),
        (("job", "\x1b[2J"), "' is not known; there is new, show"),
    ],
)
def test_a_command_line_that_cannot_be_read_is_answered_in_one_sentence(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], sentence: str
) -> None:
    """What is wrong, what there is, and where help is; exit 2."""
    with pytest.raises(SystemExit) as ended:
        main(words)
    said = capsys.readouterr()
    assert (ended.value.code, said.out) == (2, "")
    (line,) = said.err.splitlines()
    assert line.startswith("benchctl: ")
    assert sentence in line
    assert line.endswith("--help`")
    assert line.isprintable()
