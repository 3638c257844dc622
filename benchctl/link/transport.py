"""A cable, however it is made: three methods. A driver for another kind of cable is a class with these."""

from __future__ import annotations

from typing import Protocol


class Transport(Protocol):
    """Bytes both ways, never blocking for longer than a few milliseconds.

    `read` and `write` raise LinkLost once the far end is gone; `close` never raises.
    """

    def read(self) -> bytes:
        """The bytes that have arrived since the last call, possibly none."""

    def write(self, data: bytes) -> None:
        """Send all of `data`."""

    def close(self) -> None:
        """Give the cable back; later calls of `read` and `write` raise LinkLost."""
