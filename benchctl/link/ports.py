"""Which serial ports there are, which of them looks like a board, and which one a USB id means."""

from __future__ import annotations

import os
import re
from typing import NamedTuple

from benchctl.errors import PortUnavailable
from benchctl.units import printable

BOARD_USB = (0x2E8A, 0x0005)
"""USB vendor and product of stock MicroPython on RP2040 boards, the same on all (read in its source)."""
WRONG_PACKAGE = "the package 'serial' hides pyserial; run: pip uninstall serial, then pip install pyserial"
"""Another package has the same import name (from memory)."""
_USB_ID = re.compile(r"\A(?:usb:)?([0-9A-Fa-f]{4}:[0-9A-Fa-f]{4})(?::(.+))?\Z")


class Port(NamedTuple):
    """One serial port of this computer."""

    path: str
    words: str
    usb: str | None
    looks_like_board: bool


def list_ports() -> list[Port]:
    """The ports in order of their names; text from devices is made safe to show."""
    try:
        from serial.tools import list_ports as pyserial_ports
    except ImportError as error:
        raise PortUnavailable(WRONG_PACKAGE) from error
    found = []
    for info in sorted(pyserial_ports.comports(), key=lambda info: info.device):
        usb = None
        if info.vid is not None and info.pid is not None:
            serial = f":{printable(info.serial_number, 40)}" if info.serial_number else ""
            usb = f"{info.vid:04x}:{info.pid:04x}{serial}"
        words = printable(info.description or "", 60)
        found.append(Port(info.device, words, usb, (info.vid, info.pid) == BOARD_USB))
    return found


def resolve(asked: str, ports: list[Port] | None = None) -> str:
    """The path of a port named by its path, or by its USB id `VVVV:PPPP` or `VVVV:PPPP:SERIAL`.

    PortUnavailable where no port, or more than one, has that id.
    """
    id_asked = _USB_ID.match(asked)
    if id_asked is None:
        return asked
    numbers, serial = id_asked[1].lower(), id_asked[2]
    wanted = numbers if serial is None else f"{numbers}:{serial}"
    there = list_ports() if ports is None else ports
    fitting = [
        port.path
        for port in there
        if port.usb is not None and (port.usb == wanted or (serial is None and port.usb[:9] == numbers))
    ]
    shown = printable(wanted)
    if not fitting:
        raise PortUnavailable(
            f"no port has the USB id {shown}; plug the board in, and see 'benchctl ports' for what is there"
        )
    if len(fitting) > 1:
        raise PortUnavailable(
            f"{len(fitting)} ports have the USB id {shown} ({', '.join(fitting)}); "
            "add the serial number, or name the port by its path"
        )
    return fitting[0]


def usb_id_of(path: str, ports: list[Port] | None = None) -> str | None:
    """The USB id of the port at a path, links followed; None where it has none that tells it from others."""
    there = list_ports() if ports is None else ports
    real = os.path.realpath(path)
    own = next((port.usb for port in there if port.path in (path, real)), None)
    alone = own is not None and sum(port.usb == own for port in there) == 1
    return own if alone else None


def returning_name(path: str) -> str:
    """By what a port is found again that was lost: its USB id where it has a serial number, since it may come
    back under another path; else its path."""
    usb = usb_id_of(path)
    return usb if usb is not None and usb.count(":") == 2 else path


def lasting_name(asked: str) -> str:
    """What to remember a port by: its USB id where it has one of its own, else its whole path."""
    if _USB_ID.match(asked):
        return asked
    return usb_id_of(asked) or os.path.abspath(asked)  # noqa: PTH100 - a link keeps its own name
