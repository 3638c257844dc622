"""A serial port as a transport, by pyserial: the only file that opens one.

Measured on pseudo-terminals with pyserial 3.5: `exclusive=True` keeps out a second program that asks for
it too, not one that does not, so TIOCEXCL is set besides (a process of root is not kept out by it); a port
whose far end has gone raises SerialException, OSError or termios.error by turns, and `is_open` stays True;
`flush` may wait for ever and is never called; a write without a time-out may block for ever.
"""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

import serial

from benchctl.errors import LinkLost, PortUnavailable
from benchctl.units import printable

BAUD = 115200
WRITE_PATIENCE_S = 0.5
READ_MOST = 4096

try:
    import fcntl
    import termios

    _PORT_ERRORS: tuple[type[BaseException], ...] = (
        serial.SerialException,
        OSError,
        termios.error,
        TypeError,
        AttributeError,
    )
except ImportError:  # Windows: ports are always exclusive there
    _PORT_ERRORS = (serial.SerialException, OSError, TypeError, AttributeError)


class SerialTransport:
    """An open port. Raises PortUnavailable when it cannot be opened, LinkLost once it has gone."""

    def __init__(self, path: str) -> None:
        if not hasattr(serial, "Serial"):
            raise PortUnavailable(
                "the package 'serial' hides pyserial; run: pip uninstall serial, then pip install pyserial"
            )
        self.path = path
        try:
            self._port = serial.Serial(
                path, BAUD, timeout=0, write_timeout=WRITE_PATIENCE_S, exclusive=os.name != "nt" or None
            )
        except _PORT_ERRORS as error:
            raise PortUnavailable(_why_not(path, error)) from error
        self._keep_others_out()

    def _keep_others_out(self) -> None:
        """TIOCEXCL; not on a pseudo-terminal, where it would outlast a killed program."""
        if not _is_pseudo(self.path):
            with contextlib.suppress(Exception):
                fcntl.ioctl(self._port.fileno(), termios.TIOCEXCL)

    def read(self) -> bytes:
        """What has arrived."""
        try:
            return bytes(self._port.read(READ_MOST))
        except _PORT_ERRORS as error:
            raise LinkLost(f"the port {printable(self.path)} has gone: {error}") from error

    def write(self, data: bytes) -> None:
        """Send bytes; a port that takes none for half a second counts as gone."""
        try:
            self._port.write(data)
        except _PORT_ERRORS as error:
            raise LinkLost(f"the port {printable(self.path)} takes no bytes: {error}") from error

    def close(self) -> None:
        """Give the port back."""
        with contextlib.suppress(*_PORT_ERRORS):
            self._port.close()


def _why_not(path: str, error: BaseException) -> str:
    """One sentence: what is wrong with the port and what to do."""
    shown, number = printable(path), getattr(error, "errno", None)
    text = str(error)
    if number == errno.ENOENT or "No such file" in text or "FileNotFoundError" in text:
        return f"the port {shown} is not there; plug the board in, and see 'benchctl ports' for what is"
    if number in (errno.EACCES, errno.EPERM) or "Permission" in text:
        group = _group_of(path)
        hint = (
            f"join the group '{group}' (sudo usermod -aG {group} $USER), then log in again"
            if group
            else "ask"
        )
        return f"the port {shown} may not be opened by you; {hint}"
    if number in (errno.EAGAIN, errno.EBUSY) or "lock" in text or "busy" in text:
        return f"the port {shown} is in use by another program; close that one first"
    return f"the port {shown} cannot be opened: {printable(text, 120)}"


def _group_of(path: str) -> str:
    try:
        return Path(path).group()
    except (OSError, KeyError, NotImplementedError):
        return ""


def _is_pseudo(path: str) -> bool:
    return os.path.realpath(path).startswith("/dev/pts/")


def root_warning(path: str) -> str:
    """A sentence where a real port is driven by root, whom TIOCEXCL does not keep out; else empty."""
    geteuid = getattr(os, "geteuid", None)
    if geteuid is None or geteuid() != 0 or _is_pseudo(path):
        return ""
    return f"warning: driving {printable(path)} as root; another program of root could open the port too"
