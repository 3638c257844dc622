"""The bench in its own process behind a pseudo-terminal: the port, the truth file, a host that dies."""

from __future__ import annotations

import errno
import fcntl
import itertools
import json
import os
import signal
import subprocess
import sys
import termios
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchctl.cli import main
from benchctl.clock import SteppedClock
from benchctl.errors import BadInput
from benchctl.simulator.pseudo_port import PseudoPort
from benchctl.simulator.serve import Server
from firmware_protocol import codec, frames, messages
from tests.simulator.raw_host import make_bench
from tests.simulator.small_host import SmallHost

ROOT = Path(__file__).parents[2]
pytestmark = [pytest.mark.live, pytest.mark.timeout(40)]


def simulate(folder: Path, *more: str) -> subprocess.Popen[bytes]:
    """`benchctl simulate` with its port at `folder`/port and its truth at `folder`/truth."""
    options = ["--link", str(folder / "port"), "--truth", str(folder / "truth"), *more]
    return subprocess.Popen([sys.executable, "-m", "benchctl", "simulate", *options], cwd=ROOT)


def wait_for(path: Path, seconds: float = 10.0) -> None:
    """Wait until a path exists."""
    until = time.monotonic() + seconds
    while not path.exists():
        assert time.monotonic() < until, f"{path} did not come"
        time.sleep(0.01)


def truths(folder: Path) -> list[dict[str, object]]:
    """The whole lines of the truth file."""
    lines = (folder / "truth").read_text().split("\n")[:-1]
    return [json.loads(line) for line in lines]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[Path, subprocess.Popen[bytes]]]:
    """A served bench with nobody at the pedal; ended by SIGTERM."""
    process = simulate(tmp_path, "--operator", "absent")
    try:
        wait_for(tmp_path / "truth")
        wait_for(tmp_path / "port")
        yield tmp_path, process
    finally:
        process.terminate()
        assert process.wait(15.0) == 0
        assert not (tmp_path / "port").is_symlink(), "the link is removed at the end"


def cpu_s(pid: int) -> float:
    """Processor time a process has used (Linux: utime and stime of /proc)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_a_killed_host_lets_the_table_rest(served: tuple[Path, subprocess.Popen[bytes]]) -> None:
    """SIGKILL to a renewing host at 35 rpm: the true table speed is 0 within 2.7 s and stays so.

    The same run shows: truth lines come at least 20 times a second, and the bench in life's time takes
    less than 15 % of one core.
    """
    folder, process = served
    host = subprocess.Popen(
        [sys.executable, "-m", "tests.simulator.small_host", str(folder / "port"), "35"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
    )
    try:
        assert host.stdout is not None
        used_s, at_s = cpu_s(process.pid), time.monotonic()
        assert host.stdout.readline() == b"at speed\n"
        share = (cpu_s(process.pid) - used_s) / (time.monotonic() - at_s)
        assert share < 0.15, share
        killed_at_s = float(str(truths(folder)[-1]["at_s"]))
        assert float(str(truths(folder)[-1]["table_rpm"])) == pytest.approx(35.0, abs=0.5)
    finally:
        host.kill()
        host.wait()
    time.sleep(4.5)
    lines = truths(folder)
    late = [line for line in lines if float(str(line["at_s"])) > killed_at_s + 2.7]
    assert late
    assert all(line["table_rpm"] == 0.0 for line in late)
    assert late[-1]["board_state"] == "tripped"
    gaps = [float(str(b["at_s"])) - float(str(a["at_s"])) for a, b in itertools.pairwise(lines)]
    assert max(gaps) <= 0.05
    assert set(lines[0]) == {"at_s", "table_rpm", "lap_rpm", "drive_enabled", "board_state", "mishap"}
    revived = SmallHost(str(folder / "port"))
    revived.wait(0.5)
    assert revived.status is not None
    assert revived.status.state == messages.TRIPPED
    os.close(revived.port)


def lost_within(port: int, seconds: float) -> bool:
    """Whether reading a port fails or ends within some seconds."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            if os.read(port, 1000) == b"":
                return True
        except BlockingIOError:
            time.sleep(0.005)
        except OSError:
            return True
    return False


def test_the_plug_comes_out(tmp_path: Path) -> None:
    """cable-out: the link vanishes, the host's reads fail, the bench lives on and says so in the truth."""
    process = simulate(tmp_path, "--mishap", "cable-out@1.0", "--seconds", "2.0")
    wait_for(tmp_path / "port")
    host = SmallHost(str(tmp_path / "port"))
    assert lost_within(host.port, 15.0)
    assert not (tmp_path / "port").is_symlink()
    assert process.wait(15.0) == 0
    last = truths(tmp_path)[-1]
    assert last["mishap"] == "cable-out"
    assert float(str(last["at_s"])) > 1.9
    os.close(host.port)


def test_interrupt_ends_in_good_order(tmp_path: Path) -> None:
    """Ctrl-C ends the serving with status 0 and no link left behind."""
    process = simulate(tmp_path)
    wait_for(tmp_path / "truth")
    process.send_signal(signal.SIGINT)
    assert process.wait(15.0) == 0
    assert not (tmp_path / "port").is_symlink()


def open_as_stranger(name: str, *, die: bool) -> int:
    """Open a terminal exclusively in a child that is not root; exit status 0, or the errno."""
    child = os.fork()
    if child == 0:
        status = 99
        try:
            if os.getuid() == 0:
                os.setuid(65534)
            terminal = os.open(name, os.O_RDWR | os.O_NOCTTY)
            tty.setraw(terminal)
            fcntl.ioctl(terminal, termios.TIOCEXCL)
            os.write(terminal, b"\x00")
            status = 0
            if die:
                os.kill(os.getpid(), signal.SIGKILL)
        except OSError as error:
            status = error.errno or 98
        finally:
            os._exit(status)
    ended = os.waitpid(child, 0)[1]
    return os.waitstatus_to_exitcode(ended)


def test_locks_die_with_the_host(tmp_path: Path) -> None:
    """A host that locked the port and was killed does not lock out the next one."""
    with PseudoPort(tmp_path / "port") as port:
        name = str((tmp_path / "port").resolve())
        if os.getuid() == 0:
            Path(name).chmod(0o666)
        for _ in range(2):
            assert open_as_stranger(name, die=True) == -signal.SIGKILL
            assert port.read() == b"\x00"
            assert open_as_stranger(name, die=False) == errno.EBUSY
            port.release_dead_lock()
        assert open_as_stranger(name, die=False) == 0


def test_locks_of_a_live_host_stay(tmp_path: Path) -> None:
    """While a host holds its advisory lock, its exclusive mode is not undone."""
    with PseudoPort(tmp_path / "port") as port:
        host = os.open(tmp_path / "port", os.O_RDWR | os.O_NOCTTY)
        fcntl.flock(host, fcntl.LOCK_EX | fcntl.LOCK_NB)
        fcntl.ioctl(host, termios.TIOCEXCL)
        os.write(host, b"x")
        port.wait(1.0)
        assert port.read() == b"x"
        port.release_dead_lock()
        name = str((tmp_path / "port").resolve())
        if os.getuid() == 0:
            Path(name).chmod(0o666)
        assert open_as_stranger(name, die=False) == errno.EBUSY
        os.close(host)
        port.release_dead_lock()
        assert open_as_stranger(name, die=False) == 0


def test_nobody_listening_costs_only_old_bytes(tmp_path: Path) -> None:
    """Without a reader the port swallows bytes for ever; who opens it later gets the newest frames."""
    with PseudoPort(tmp_path / "port") as port:
        payload = codec.encode(messages.Ping(1), 0, 0, 0)
        for _ in range(2000):
            port.write(frames.encode(payload))
        host = os.open(tmp_path / "port", os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        reader = frames.FrameReader()
        assert len(reader.feed(os.read(host, 100000))) > 10
        os.close(host)


def test_bytes_pass_as_they_are(tmp_path: Path) -> None:
    """Every byte value passes both ways unchanged: no echo, no line editing, no flow control."""
    every = bytes(range(256))
    with PseudoPort(tmp_path / "port") as port:
        host = os.open(tmp_path / "port", os.O_RDWR | os.O_NOCTTY)
        os.write(host, every)
        port.wait(1.0)
        assert port.read() == every
        port.write(every)
        assert os.read(host, 1000) == every
        os.close(host)
        port.read()
        again = os.open(tmp_path / "port", os.O_RDWR | os.O_NOCTTY)
        os.write(again, every)
        port.wait(1.0)
        assert port.read() == every
        os.close(again)


def test_an_occupied_path_is_refused(tmp_path: Path) -> None:
    """A path that exists is left alone, unless it is the dead link of an earlier simulator."""
    path = tmp_path / "port"
    path.write_text("mine")
    with pytest.raises(BadInput, match="is there already"):
        PseudoPort(path)
    assert path.read_text() == "mine"
    path.unlink()
    path.symlink_to("/dev/pts/99999")
    with PseudoPort(path):
        assert path.exists()
        with pytest.raises(BadInput, match="is there already"):
            PseudoPort(path)
    assert not path.is_symlink()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--mishap", "lap-fire@3"], "'lap-fire' is not known"),
        (["--mishap", "lap-stall"], "needs a time from 0"),
        (["--mishap", "lap-stall@nan"], "needs a time from 0"),
        (["--mishap", "disk-full@3"], "befalls the computer"),
        (["--operator", "bob"], "use attentive, slow, absent"),
        (["--seconds", "0"], "give seconds above 0"),
        (["--seconds", "nan"], "give seconds above 0"),
        (["--job", "nowhere.toml"], "nowhere.toml"),
        (["--truth", "nowhere/truth"], "name a file you may write"),
    ],
)
def test_bad_input_is_refused(
    options: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused input: exit 2, one line that says what, and no link made."""
    link = tmp_path / "port"
    kept = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)]
    try:
        assert main(["simulate", "--link", str(link), *options]) == 2
    finally:
        for number, handler in zip((signal.SIGINT, signal.SIGTERM, signal.SIGHUP), kept, strict=True):
            signal.signal(number, handler)
    told = capsys.readouterr().err
    assert words in told
    assert told.count("\n") == 1
    assert not link.is_symlink()


def test_without_pseudo_terminals_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a system that has none, as Windows, the command is refused and says what to use."""
    monkeypatch.setattr("benchctl.simulator.pseudo_port.termios", None)
    with pytest.raises(BadInput, match="no pseudo-terminals; use 'benchctl run --simulated'"):
        PseudoPort(tmp_path / "port")


class Sleeper(SteppedClock):
    """A clock under which the computer once slept."""

    def __init__(self, asleep_at_s: float, for_s: float) -> None:
        super().__init__()
        self.asleep_at_s, self.for_s = asleep_at_s, for_s

    def monotonic_s(self) -> float:
        self.now_s += 0.002
        if self.for_s and self.now_s >= self.asleep_at_s:
            self.now_s += self.for_s
            self.for_s = 0.0
        return self.now_s


def test_a_frozen_computer_freezes_the_bench(tmp_path: Path) -> None:
    """Time in which the computer stood still is left out; small delays are made up for."""
    for asleep_s, lost_s in ((0.1, 0.0), (5.0, 5.0)):
        clock = Sleeper(1.0, asleep_s)
        bench = make_bench()
        with PseudoPort(tmp_path / "port") as port:
            Server(bench, port, clock, threading.Event()).run(2.0)
        assert bench.now_s == pytest.approx(2.0)
        assert clock.now_s - 2.0 == pytest.approx(lost_s, abs=0.25)
