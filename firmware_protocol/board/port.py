"""The board's end of the cable: at most 64 bytes are written at once, and only when there is room.

Over USB "room" may be a single byte, and MicroPython then waits up to 0.5 s for the rest (read in its
source). That takes a computer that has read nothing for so long that all its own buffers are full: its
silence has stopped the table long before.
"""

import select
import sys

CHUNK = 64
READ_MOST = 256


class Port:
    """Base of the ways to talk; neither method waits for the computer's answer."""

    def read(self) -> bytes:
        """What has come, up to 256 bytes; empty when nothing has."""
        raise NotImplementedError

    def write(self, data: bytes) -> int:
        """Write the beginning of `data`, at most 64 bytes; how many bytes it took."""
        raise NotImplementedError


class StdioPort(Port):
    """USB serial, which MicroPython offers as standard input and output."""

    def __init__(self) -> None:
        self._in = sys.stdin.buffer
        self._out = sys.stdout.buffer
        self._in_poll = select.poll()
        self._in_poll.register(sys.stdin, select.POLLIN)
        self._out_poll = select.poll()
        self._out_poll.register(sys.stdout, select.POLLOUT)

    def read(self) -> bytes:
        """What has come, up to 256 bytes; empty when nothing has."""
        got = bytearray()
        while len(got) < READ_MOST and self._in_poll.poll(0):
            byte = self._in.read(1)
            if not byte:
                break
            got += byte
        return bytes(got)

    def write(self, data: bytes) -> int:
        """Write the beginning of `data`; how many bytes it took."""
        if not self._out_poll.poll(0):
            return 0
        return self._out.write(data[:CHUNK]) or 0
