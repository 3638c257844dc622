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
from benchctl.link.ports import WRONG_PACKAGE, list_ports
from benchctl.units import printable

BAUD = 115200
WRITE_PATIENCE_S = 0.5
READ_MOST = 4096

# SerialException is an OSError; the two others come out of pyserial when the port is closed under it.
_PORT_ERRORS: tuple[type[BaseException], ...] = (OSError, TypeError, AttributeError, ValueError)
try:
    import fcntl
    import termios

    _PORT_ERRORS = (*_PORT_ERRORS, termios.error)
except ImportError:  # Windows: ports are always exclusive there
    pass


class SerialTransport:
    """An open port. Raises PortUnavailable when it cannot be opened, LinkLost once it has gone.

    DTR and RTS are raised by opening and left so: a board that talks over USB sends only while DTR is high.
    Some boards restart when DTR rises, so after opening nothing is assumed of the board's state.
    """

    def __init__(self, path: str) -> None:
        if not hasattr(serial, "Serial"):
            raise PortUnavailable(WRONG_PACKAGE)
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
            raise LinkLost(f"the port {printable(self.path)} has gone") from error

    def write(self, data: bytes) -> None:
        """Send bytes; a port that takes none for half a second counts as gone."""
        try:
            self._port.write(data)
        except _PORT_ERRORS as error:
            raise LinkLost(f"the port {printable(self.path)} takes no bytes") from error

    def close(self) -> None:
        """Give the port back."""
        with contextlib.suppress(*_PORT_ERRORS):
            self._port.close()


def _why_not(path: str, error: BaseException) -> str:
    """One sentence: what is wrong with the port and what to do."""
    shown, number, text = printable(path), _number_of(error), str(error)
    if number in (errno.ENOENT, errno.ENXIO, errno.ENODEV) or "FileNotFoundError" in text:
        return f"the port {shown} is not there; {_what_is_there()}"
    if number in (errno.EACCES, errno.EPERM) or "PermissionError" in text:
        return f"the port {shown} may not be opened by you; {_how_to_be_let_in(path)}"
    if number in (errno.EAGAIN, errno.EBUSY) or "exclusively lock" in text:
        return f"the port {shown} is in use by another program; close that one first"
    if number in (errno.ENOTTY, errno.EISDIR, errno.EINVAL) or isinstance(error, ValueError):
        return f"{shown} is not a serial port; {_what_is_there()}"
    return f"the port {shown} cannot be opened: {printable(text, 120)}"


def _number_of(error: BaseException) -> int | None:
    """The system's error number; pyserial hides that of a failed set-up in its text."""
    number = getattr(error, "errno", None)
    if number is None and error.__context__ is not None:
        found = error.__context__.args[:1]
        number = found[0] if found and isinstance(found[0], int) else None
    return number


def _what_is_there() -> str:
    """The ports that can be named instead; a hint where there are none."""
    names = [port.path for port in list_ports()]
    shown = ", ".join(names[:6]) + (" and more" if len(names) > 6 else "")
    return f"there is {shown}" if names else "no serial port is; plug the board in, then see 'benchctl ports'"


def _how_to_be_let_in(path: str) -> str:
    group = _group_of(path)
    if not group or group == "root":
        return "have whoever looks after this computer give the port to a group of yours"
    return f"join the group '{group}' (sudo usermod -aG {group} $USER), then log in again"


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
