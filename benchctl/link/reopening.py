"""A transport that is opened again after it was lost: what comes back is a cable, never a motion.

While it is away, `read` and `write` raise LinkLost. The link above then greets the board anew; orders of
before the loss are gone, and the board has stopped the table by itself in the meantime.
"""

from __future__ import annotations

from collections.abc import Callable

from benchctl.clock import Clock
from benchctl.errors import LinkError, LinkLost
from benchctl.link.transport import Transport

FIRST_WAIT_S = 0.25
LONGEST_WAIT_S = 2.0


class ReopeningTransport:
    """Opens with `open_it` at once, raising what that raises; after a loss it tries again by itself.

    The first try comes 0.25 s after the loss, each later one after twice the wait, 2 s at most.
    """

    def __init__(self, open_it: Callable[[], Transport], clock: Clock) -> None:
        self._open = open_it
        self._clock = clock
        self._inner: Transport | None = open_it()
        self._why = ""
        self._wait_s = FIRST_WAIT_S
        self._next_s = 0.0
        self._closed = False
        self.reopened = 0
        """How often it came back."""

    def read(self) -> bytes:
        """What has arrived. LinkLost while the cable is away; it is looked for here, when it is time."""
        inner = self._inner or self._again()
        try:
            return inner.read()
        except LinkLost as error:
            raise self._lost(error) from error

    def write(self, data: bytes) -> None:
        """Send bytes. LinkLost while the cable is away: they are not kept for later."""
        if self._inner is None:
            raise LinkLost(self._why)
        try:
            self._inner.write(data)
        except LinkLost as error:
            raise self._lost(error) from error

    def close(self) -> None:
        """Give the cable back and look for it no more."""
        self._closed = True
        self._why = "the port was given back"
        if self._inner is not None:
            self._inner.close()
            self._inner = None

    def _lost(self, error: LinkLost) -> LinkLost:
        if self._inner is not None:
            self._inner.close()
            self._inner = None
            self._why = str(error)
            self._wait_s = FIRST_WAIT_S
            self._next_s = self._clock.monotonic_s() + self._wait_s
        return error

    def _again(self) -> Transport:
        """The cable opened anew; LinkLost where it is not time yet or it is still away."""
        now_s = self._clock.monotonic_s()
        if self._closed or now_s < self._next_s:
            raise LinkLost(self._why)
        try:
            inner = self._open()
        except LinkError as error:
            self._wait_s = min(2.0 * self._wait_s, LONGEST_WAIT_S)
            self._next_s = now_s + self._wait_s
            raise LinkLost(self._why) from error
        self._inner = inner
        self.reopened += 1
        return inner
