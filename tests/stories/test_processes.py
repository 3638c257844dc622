"""Real processes over a pseudo-terminal: a whole short segment, and what happens when they die."""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchctl.logbook.reader import read
from tests.stories.live_stage import Stage, wait_for

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(os.name == "nt", reason="a pseudo-terminal is needed, which Windows has not"),
    pytest.mark.timeout(240),
]

REST_AFTER_DEATH_S = 0.6 + 35.0 * 2.0 * 3.14159265 / 60.0 / 2.0 + 0.2
"""Run permit, ramp of 2 rad/s2 from 35 rpm, and a margin: 2.6 s, promised as 2.7."""


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """A bench that is ended with the test."""
    stage = Stage(tmp_path)
    yield stage
    stage.close()


def test_a_whole_segment_over_a_port(stage: Stage) -> None:
    """Armed and run by the command, answered by the pedal alone, recorded, exit status 0."""
    host = stage.host()
    out, err = host.communicate(timeout=150)
    assert host.returncode == 0, err
    record = json.loads(out.splitlines()[-1])
    assert record["event"] == "segment_record"
    assert (record["outcome"], record["wet_down"], record["simulated"]) == ("completed", "answered", False)
    called = next(json.loads(line) for line in out.splitlines() if "wet_down_called" in line)
    assert called["at_s"] == pytest.approx(45.0, abs=0.5)
    assert read(stage.folder / "log").sound


def test_a_killed_host_lets_the_table_rest(stage: Stage) -> None:
    """SIGKILL at 35 rpm: the board stops the table within 2.7 s, and the next start says what was left."""
    host = stage.host()
    wait_for(lambda: stage.rpm() > 34.5, 80.0, "35 rpm")
    killed_s = float(str(stage.truth()[-1]["at_s"]))
    host.send_signal(signal.SIGKILL)
    host.wait(10)
    wait_for(lambda: stage.rpm() == 0.0, 10.0, "rest")
    still_s = next(
        float(str(t["at_s"]))
        for t in stage.truth()
        if float(str(t["at_s"])) > killed_s and t["table_rpm"] == 0.0
    )
    assert still_s - killed_s <= 2.7
    time.sleep(1.5)
    assert stage.rpm() == 0.0
    again = stage.look()
    assert again.returncode == 2
    assert "when the program ended without warning" in again.stderr
    assert stage.rpm() == 0.0


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_stops_the_table_first(stage: Stage, name: str) -> None:
    """SIGTERM, SIGHUP and SIGINT: STOP goes out, the record is written, then the program ends with 3."""
    host = stage.host()
    wait_for(lambda: stage.rpm() > 11.0, 30.0, "12 rpm")
    host.send_signal(getattr(signal, name))
    out, err = host.communicate(timeout=30)
    assert host.returncode == 3, err
    record = json.loads(out.splitlines()[-1])
    assert (record["outcome"], record["stop_reason"]) == ("stopped", "person")
    assert stage.rpm() == 0.0


def test_a_program_that_was_held_up_starts_nothing_late(stage: Stage) -> None:
    """Stopped once the board is armed and woken five seconds later, it gives up: the table never turned."""
    host = stage.host()
    wait_for(lambda: stage.last()["board_state"] == "armed", 30.0, "arming")
    host.send_signal(signal.SIGSTOP)
    time.sleep(5.0)
    host.send_signal(signal.SIGCONT)
    _, err = host.communicate(timeout=30)
    assert host.returncode == 2
    assert "starts nothing late" in err
    assert all(line["table_rpm"] == 0.0 for line in stage.truth())


def test_a_port_has_one_program(stage: Stage) -> None:
    """A second program on the same port is refused in one sentence, and the first goes on."""
    first = stage.host()
    wait_for(lambda: stage.rpm() > 5.0, 30.0, "the first segment")
    second = stage.host("--logbook", str(stage.folder / "other"))
    _, err = second.communicate(timeout=30)
    assert second.returncode == 4
    assert "in use by another program" in err
    assert first.poll() is None
    assert stage.rpm() > 5.0
    first.terminate()
    first.communicate(timeout=30)
