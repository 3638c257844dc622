"""Which serial ports there are, and which of them looks like a board."""

from __future__ import annotations

from typing import NamedTuple

from benchctl.units import printable

BOARD_USB = (0x2E8A, 0x0005)
"""USB vendor and product of stock MicroPython on RP2040 boards, shared by all of them (read in its source)."""


class Port(NamedTuple):
    """One serial port of this computer."""

    path: str
    words: str
    usb: str | None
    looks_like_board: bool


def list_ports() -> list[Port]:
    """The ports in order of their names; text from devices is made safe to show."""
    from serial.tools import list_ports as pyserial_ports

    found = []
    for info in sorted(pyserial_ports.comports(), key=lambda info: info.device):
        usb = None
        if info.vid is not None and info.pid is not None:
            serial = f":{printable(info.serial_number, 40)}" if info.serial_number else ""
            usb = f"{info.vid:04x}:{info.pid:04x}{serial}"
        words = printable(info.description or "", 60)
        found.append(Port(info.device, words, usb, (info.vid, info.pid) == BOARD_USB))
    return found
