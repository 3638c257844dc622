"""The pseudo-terminal behind which the simulated bench is served.

Its name is linked at a path that a host opens as its port. The far side is held open here too, so that a
host that dies is not seen as a hang-up: the board must find out by silence, as behind a real serial port.
"""

from __future__ import annotations

import contextlib
import os
import select
from pathlib import Path
from types import TracebackType

from benchctl.errors import BadInput
from benchctl.units import printable

try:
    import fcntl
    import termios
    import tty
except ImportError:  # Windows has no pseudo-terminals
    fcntl = termios = tty = None  # type: ignore[assignment]

CHUNK = 4096


class PseudoPort:
    """A pseudo-terminal linked at `path`. BadInput where it cannot be: no such thing here, or path in use."""

    def __init__(self, path: Path) -> None:
        if termios is None:
            raise BadInput(
                "simulate: this system has no pseudo-terminals; use 'benchctl run --simulated' instead"
            )
        self.path = path
        self._master, slave = os.openpty()
        self._name = os.ttyname(slave)
        self._slave = slave
        self._touched = False
        tty.setraw(slave, termios.TCSANOW)
        os.set_blocking(self._master, False)
        try:
            self._link()
        except BaseException:
            self._close_both()
            raise

    def _link(self) -> None:
        path = self.path
        if path.is_symlink() and not path.exists() and _was_terminal(path):
            path.unlink()
        if path.is_symlink() or path.exists():
            raise BadInput(
                f"simulate: --link {printable(str(path))} is there already; name a path that is not"
            )
        try:
            path.symlink_to(self._name)
        except OSError as error:
            reason = (error.strerror or "not possible").lower()
            raise BadInput(
                f"simulate: cannot make the link {printable(str(path))}: {reason}; "
                "name a path in a folder that you may write to"
            ) from error

    def wait(self, seconds: float) -> None:
        """Wait until bytes come, for `seconds` at most."""
        select.select([self._master], [], [], max(0.0, seconds))

    def read(self) -> bytes:
        """What a host has sent; empty when none has, or none is there."""
        try:
            data = os.read(self._master, CHUNK)
        except BlockingIOError:
            return b""
        self._touched = self._touched or bool(data)
        return data

    def write(self, data: bytes) -> None:
        """Send to the host. When nobody reads, the oldest bytes are lost, as on a serial line."""
        try:
            sent = os.write(self._master, data)
        except BlockingIOError:
            sent = 0
        if sent < len(data):
            termios.tcflush(self._slave, termios.TCIFLUSH)
            with contextlib.suppress(BlockingIOError):
                os.write(self._master, data[sent:])

    def release_dead_lock(self) -> None:
        """Undo the exclusive mode that a dead host has left on the port (on a real port it dies with it).

        To be called once a host has been silent for a while. A live one that holds the usual advisory lock
        (flock) keeps its exclusive mode.
        """
        if not self._touched:
            return
        try:
            fcntl.flock(self._slave, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return
        fcntl.flock(self._slave, fcntl.LOCK_UN)
        fcntl.ioctl(self._slave, termios.TIOCNXCL)
        self._touched = False

    def unplug(self) -> None:
        """The plug comes out: the port vanishes and a host's reads fail."""
        self._remove_link()
        self._close_both()

    def close(self) -> None:
        """Remove the link and give the pseudo-terminal back. Safe to call twice."""
        self.unplug()

    def _remove_link(self) -> None:
        with contextlib.suppress(OSError):
            if self.path.is_symlink() and str(self.path.readlink()) == self._name:
                self.path.unlink()

    def _close_both(self) -> None:
        if self._master >= 0:
            os.close(self._slave)
            os.close(self._master)
            self._master = -1

    @property
    def plugged(self) -> bool:
        """Whether the port is still there."""
        return self._master >= 0

    def __enter__(self) -> PseudoPort:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _was_terminal(path: Path) -> bool:
    """Whether a dead link once led to a pseudo-terminal, as those of an earlier simulator do."""
    return str(path.readlink()).startswith(("/dev/pts/", "/dev/ttys"))
