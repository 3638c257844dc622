"""Edge stamps of one sensor: debounce, running numbers, and the batch that waits for the cable.

Stamps are microseconds, u32, wrapping every 71.6 minutes; only differences are ever used.
"""

from firmware_protocol.messages import MAX_STAMPS

MASK32 = 0xFFFFFFFF
HELD = 64


class EdgeLine:
    """One sensor's edges on their way to the host.

    `count` numbers the accepted edges (u32); `bounced` counts those refused by the debounce.
    `since_ms` is the time since the last accepted edge; the owner adds to it as time goes by.
    """

    def __init__(self, debounce_us: int) -> None:
        self.debounce_us = debounce_us
        self.count = 0
        self.bounced = 0
        self.since_ms = 0
        self.gap_us = 0
        self.waiting = 0
        self._last_us = -1
        self._ring = [0] * HELD
        self._next = 0

    def edge(self, stamp_us: int) -> bool:
        """Take one edge; False where it follows the last one within the debounce time."""
        if self._last_us >= 0:
            gap = (stamp_us - self._last_us) & MASK32
            if gap < self.debounce_us and self.since_ms < 1000:
                self.bounced += 1
                return False
            self.gap_us = gap
        self._last_us = stamp_us
        self.since_ms = 0
        self.count = (self.count + 1) & MASK32
        self._ring[self._next] = stamp_us
        self._next = (self._next + 1) % HELD
        if self.waiting < HELD:
            self.waiting += 1
        return True

    def take(self) -> tuple[int, tuple[int, ...]]:
        """Number of the first stamp and up to 16 stamps, oldest first. Stamps overwritten unsent show as a
        step in the numbers."""
        size = self.waiting if self.waiting < MAX_STAMPS else MAX_STAMPS
        first = (self.count - self.waiting + 1) & MASK32
        start = self._next - self.waiting
        stamps = tuple([self._ring[(start + i) % HELD] for i in range(size)])
        self.waiting -= size
        return first, stamps
