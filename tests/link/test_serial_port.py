"""A serial port by pyserial: opening, keeping others out, and every way of losing it, on pseudo-terminals."""

from __future__ import annotations

import errno
import os
import pty
import subprocess
import sys
import time
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from benchctl.errors import LinkLost, PortUnavailable
from benchctl.link import ports, serial_port
from benchctl.link.ports import Port
from benchctl.link.serial_port import WRITE_PATIENCE_S, SerialTransport, root_warning

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


class Pair:
    """A pseudo-terminal; its slave is held open here too, so that closing the port is no hang-up."""

    def __init__(self) -> None:
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.path = os.ttyname(self.slave)

    def vanish(self) -> None:
        """The far end goes: what a pulled plug looks like."""
        for end in (self.master, self.slave):
            os.close(end)
        self.master = self.slave = -1

    def close(self) -> None:
        if self.master >= 0:
            self.vanish()


@pytest.fixture
def pair() -> Iterator[Pair]:
    made = Pair()
    yield made
    made.close()


def all_of(port: SerialTransport, length: int) -> bytes:
    """What arrives within a second."""
    data, until_s = b"", time.monotonic() + 1.0
    while len(data) < length and time.monotonic() < until_s:
        data += port.read()
    return data


def test_every_byte_passes(pair: Pair) -> None:
    """All 256 values, both ways, in order; reading when nothing has come gives nothing, at once."""
    port = SerialTransport(pair.path)
    began_s = time.monotonic()
    assert port.read() == b""
    assert time.monotonic() - began_s < 0.05
    every = bytes(range(256)) * 4
    os.write(pair.master, every)
    assert all_of(port, len(every)) == every
    port.write(every)
    assert os.read(pair.master, 4096) == every
    port.close()


def test_a_link_to_a_port_is_a_port(pair: Pair, tmp_path: Path) -> None:
    """A symbolic link, such as udev or `benchctl simulate` makes, is opened like the port itself."""
    (tmp_path / "board").symlink_to(pair.path)
    port = SerialTransport(str(tmp_path / "board"))
    port.write(b"x")
    assert os.read(pair.master, 10) == b"x"
    port.close()


def test_a_second_opening_is_refused(pair: Pair) -> None:
    """A port in use is refused in one sentence that says so; given back, it can be opened again."""
    port = SerialTransport(pair.path)
    with pytest.raises(PortUnavailable, match="in use by another program; close that one first"):
        SerialTransport(pair.path)
    port.close()
    SerialTransport(pair.path).close()


OPEN_PLAINLY = """
import os, sys
if os.getuid() == 0:
    os.setuid(65534)
try:
    os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
except OSError as error:
    sys.exit(error.errno)
"""


def plain_opening(path: str) -> int:
    """Exit status of another, unprivileged program that opens the port without asking for exclusivity."""
    return subprocess.run([sys.executable, "-c", OPEN_PLAINLY, path], check=False).returncode


def test_a_real_port_keeps_out_programs_that_do_not_ask(pair: Pair, monkeypatch: pytest.MonkeyPatch) -> None:
    """TIOCEXCL: a terminal program that knows nothing of locks is refused by the system (EBUSY).

    Tried on a pseudo-terminal that is taken for a real port; as another user, since root is let in.
    """
    Path(pair.path).chmod(0o666)
    monkeypatch.setattr(serial_port, "_is_pseudo", lambda path: False)
    assert plain_opening(pair.path) == 0
    port = SerialTransport(pair.path)
    assert plain_opening(pair.path) == errno.EBUSY
    port.close()


def test_a_pseudo_terminal_is_not_locked_for_good(pair: Pair) -> None:
    """On a pseudo-terminal TIOCEXCL would outlast a killed program, so there the advisory lock must do."""
    Path(pair.path).chmod(0o666)
    port = SerialTransport(pair.path)
    assert plain_opening(pair.path) == 0
    port.close()


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/dev/not-there", "/dev/not-there is not there; there is /dev/ttyACM3, /dev/ttyS0"),
        ("/etc/passwd", "/etc/passwd is not a serial port; there is /dev/ttyACM3"),
        ("/dev/null", "/dev/null is not a serial port"),
        ("/", "/ is not a serial port"),
        ("a\x00b\x1b[31m", "a?b?[31m is not a serial port"),
        ("x" * 5000, "cannot be opened"),
    ],
)
def test_what_cannot_be_opened(path: str, words: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence: what is wrong, and which ports there are; nothing raised but PortUnavailable."""
    there = [Port(name, "", None, False) for name in ("/dev/ttyACM3", "/dev/ttyS0")]
    monkeypatch.setattr(serial_port, "list_ports", lambda: there)
    with pytest.raises(PortUnavailable) as refused:
        SerialTransport(path)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 400


def test_where_no_port_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no serial port at all, the sentence says to plug the board in."""
    monkeypatch.setattr(serial_port, "list_ports", lambda: [])
    with pytest.raises(PortUnavailable, match="no serial port is; plug the board in"):
        SerialTransport("/dev/not-there")


def refusal_of(error: BaseException, path: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """What is said when pyserial raises this at opening."""

    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(serial, "Serial", refuse)
    with pytest.raises(PortUnavailable) as refused:
        SerialTransport(path)
    return str(refused.value)


def test_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No permission: the group that owns the port is named, and how to join it."""
    file = tmp_path / "port"
    file.touch()
    error = serial.SerialException(errno.EACCES, f"could not open port {file}: [Errno 13]")
    monkeypatch.setattr(Path, "group", lambda self: "dialout")
    said = refusal_of(error, str(file), monkeypatch)
    assert "may not be opened by you; join the group 'dialout' (sudo usermod -aG dialout $USER)" in said
    monkeypatch.setattr(Path, "group", lambda self: "root")
    assert "whoever looks after this computer" in refusal_of(error, str(file), monkeypatch)


def test_the_wrong_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another package named `serial` hides pyserial: the sentence is the cure."""
    monkeypatch.delattr(serial, "Serial")
    with pytest.raises(PortUnavailable, match="pip uninstall serial, then pip install pyserial"):
        SerialTransport("/dev/ttyACM0")
    monkeypatch.setitem(sys.modules, "serial.tools", None)
    with pytest.raises(PortUnavailable, match="pip uninstall serial, then pip install pyserial"):
        ports.list_ports()


def test_the_far_end_vanishes(pair: Pair) -> None:
    """A pulled plug is LinkLost at reading and at writing, for ever after; closing never raises."""
    port = SerialTransport(pair.path)
    pair.vanish()
    for _ in range(3):
        with pytest.raises(LinkLost, match="has gone"):
            port.read()
        with pytest.raises(LinkLost, match="takes no bytes"):
            port.write(b"x")
    port.close()
    port.close()


def test_a_closed_port_is_lost(pair: Pair) -> None:
    """Read and write after close are LinkLost too, whatever pyserial raises."""
    port = SerialTransport(pair.path)
    port.close()
    with pytest.raises(LinkLost):
        port.read()
    with pytest.raises(LinkLost):
        port.write(b"x")


def test_a_port_that_takes_nothing_is_lost(pair: Pair) -> None:
    """With nobody reading, writing gives up after half a second instead of waiting for ever."""
    port = SerialTransport(pair.path)
    began_s = time.monotonic()
    with pytest.raises(LinkLost, match="takes no bytes"):
        port.write(b"\x55" * 1_000_000)
    assert WRITE_PATIENCE_S * 0.9 < time.monotonic() - began_s < WRITE_PATIENCE_S + 1.0
    port.close()


@pytest.mark.parametrize("error", serial_port._PORT_ERRORS, ids=lambda error: error.__name__)
def test_all_port_errors_are_one(error: type[Exception], pair: Pair, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever pyserial raises on a port that goes (termios.error is no OSError) is LinkLost."""
    port = SerialTransport(pair.path)

    def fail(*_: object) -> None:
        raise error(5, "gone")

    for name in ("read", "write"):
        monkeypatch.setattr(port._port, name, fail)
    with pytest.raises(LinkLost):
        port.read()
    with pytest.raises(LinkLost):
        port.write(b"x")
    port.close()


def test_root_is_warned_on_a_real_port(pair: Pair, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root driving a real port gets a warning, since TIOCEXCL does not bind root; others get none."""
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    assert "as root" in root_warning("/dev/ttyACM0")
    assert root_warning(pair.path) == ""
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert root_warning("/dev/ttyACM0") == ""
