"""`benchctl ports`, and which port a USB id means."""

from __future__ import annotations

import contextlib
import json
import os
import time
from types import SimpleNamespace

import pytest

from benchctl.assembly.ports import open_port
from benchctl.errors import LinkLost, PortUnavailable
from benchctl.link.ports import Port, list_ports, resolve, returning_name, usb_id_of
from tests.cli.served import Shell

BOARD = Port("/dev/ttyACM0", "Board in FS mode", "2e8a:0005:E66A", True)
TWIN = Port("/dev/ttyACM1", "Board in FS mode", "2e8a:0005:E66B", True)
ADAPTER = Port("/dev/ttyUSB0", "adapter", "0403:6001", False)
PLAIN = Port("/dev/ttyS0", "n/a", None, False)


@pytest.fixture
def plugged(monkeypatch: pytest.MonkeyPatch) -> list[SimpleNamespace]:
    """What the system says is plugged in."""
    infos: list[SimpleNamespace] = []
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: infos)
    return infos


def info(device: str, usb: tuple[int, int] | None, serial: str | None, words: str) -> SimpleNamespace:
    """One port as the system tells it."""
    vid, pid = usb or (None, None)
    return SimpleNamespace(device=device, vid=vid, pid=pid, serial_number=serial, description=words)


def test_ports_are_listed_and_a_board_is_pointed_out(shell: Shell, plugged: list[SimpleNamespace]) -> None:
    """One line a port, in order of their names; the one with a board's USB numbers is pointed out."""
    plugged += [
        info("/dev/ttyUSB0", (0x0403, 0x6001), None, "adapter"),
        info("/dev/ttyACM0", (0x2E8A, 0x0005), "E66A", "Board"),
    ]
    assert shell.run("ports") == 0
    first, second = shell.out.splitlines()
    assert first.startswith("/dev/ttyACM0")
    assert "2e8a:0005:E66A" in first
    assert "looks like a board" in first
    assert "looks like a board" not in second
    assert shell.run("ports", "--json") == 0
    assert json.loads(shell.out.splitlines()[0])["looks_like_board"] is True


@pytest.mark.skipif(os.name == "nt", reason="a pseudo-terminal is needed, which Windows has not")
def test_a_board_that_comes_back_under_another_path_is_opened_there(
    plugged: list[SimpleNamespace],
) -> None:
    """Opened by its path and lost, a board with a serial number is found again by that, wherever it is."""
    board, twin = (0x2E8A, 0x0005), (0x2E8A, 0x0005)
    old, new, other = (os.openpty() for _ in range(3))
    plugged += [
        info(os.ttyname(old[1]), board, "E66A", "Board"),
        info(os.ttyname(other[1]), twin, "E66B", "Board"),
    ]
    transport, _ = open_port(os.ttyname(old[1]), None)
    for end in old:
        os.close(end)
    plugged[0] = info(os.ttyname(new[1]), board, "E66A", "Board")
    heard, until_s = b"", time.monotonic() + 5.0
    while not heard and time.monotonic() < until_s:
        os.write(new[0], b"back\n")
        with contextlib.suppress(LinkLost):
            heard = transport.read()
        time.sleep(0.02)
    transport.close()
    for end in (*new, *other):
        os.close(end)
    assert heard.startswith(b"back")


def test_no_ports(shell: Shell, plugged: list[SimpleNamespace]) -> None:
    """No ports is no error: a sentence says what to do; as JSON, nothing."""
    assert shell.run("ports") == 0
    assert "Plug the board in" in shell.out
    assert shell.run("ports", "--json") == 0
    assert shell.out == ""


def test_text_of_devices_is_made_safe(plugged: list[SimpleNamespace]) -> None:
    """Control characters in what a device calls itself do not reach the terminal."""
    plugged.append(info("/dev/ttyACM0", (1, 2), "\x1b[2J", "x\x1b]0;evil\x07\u202e"))
    port = list_ports()[0]
    assert port.usb is not None
    assert not {"\x1b", "\x07", "\u202e"} & set(port.words + port.usb)


@pytest.mark.parametrize(
    ("asked", "path"),
    [
        ("/dev/ttyS0", "/dev/ttyS0"),
        ("COM3", "COM3"),
        ("2e8a:0005:E66B", "/dev/ttyACM1"),
        ("usb:2E8A:0005:E66A", "/dev/ttyACM0"),
        ("0403:6001", "/dev/ttyUSB0"),
    ],
)
def test_a_usb_id_becomes_a_path(asked: str, path: str) -> None:
    """A USB id, in either case and with or without `usb:`, is looked up; a path stays as it is."""
    assert resolve(asked, [BOARD, TWIN, ADAPTER, PLAIN]) == path


@pytest.mark.parametrize(
    ("asked", "words"),
    [("2e8a:0005", "add the serial number"), ("2e8a:0005:E66", "no port has the USB id"), ("1:2:3", None)],
)
def test_an_id_of_none_or_of_two(asked: str, words: str | None) -> None:
    """An id that no port has, or more than one, is refused with what to do; nothing is guessed."""
    if words is None:
        assert resolve(asked, [BOARD]) == asked
        return
    with pytest.raises(PortUnavailable, match=words):
        resolve(asked, [BOARD, TWIN])


def test_only_an_id_of_its_own_is_learned() -> None:
    """A port is remembered by its USB id where no other port has the same one, else by its path."""
    assert usb_id_of("/dev/ttyACM0", [BOARD, TWIN]) == "2e8a:0005:E66A"
    assert usb_id_of("/dev/ttyUSB0", [ADAPTER, ADAPTER._replace(path="/dev/ttyUSB1")]) is None
    assert usb_id_of("/dev/ttyS0", [BOARD, PLAIN]) is None


def test_only_a_serial_number_tells_a_port_from_its_like(plugged: list[SimpleNamespace]) -> None:
    """A port is looked for again by its USB id if that has a serial number, else by its path."""
    plugged += [
        info("/dev/ttyACM0", (0x2E8A, 0x0005), "E66A", "Board"),
        info("/dev/ttyUSB0", (0x0403, 0x6001), None, "adapter"),
    ]
    assert returning_name("/dev/ttyACM0") == "2e8a:0005:E66A"
    assert returning_name("/dev/ttyUSB0") == "/dev/ttyUSB0"
    assert returning_name("/dev/ttyS0") == "/dev/ttyS0"
