"""Who may give orders, and which orders are new: owner token, epoch, sequence numbers, stored replies.

Every order that can start or change motion quotes the epoch of the last Arm (or of the Identity), so one
held back on the way from before a stop never acts. The same (epoch, seq) again gets the same stored reply
and has no second effect.
"""

from firmware_protocol import reasons

SILENT_OWNER_MS = 2000
STORED = 8
NEWER_MOST = 0x7FFF
FORBIDDEN_TOKENS = (0, 0x18181818)


class Desk:
    """One owner at a time; the newest sequence number of the epoch; the last eight replies."""

    def __init__(self, boot_counter: int) -> None:
        self.epoch = (boot_counter * 257) & 0xFFFF or 1
        self.token = 0
        self._heard_at = 0
        self._newest = -1
        self._keys = [(-1, -1, -1)] * STORED
        self._replies = [b""] * STORED
        self._next = 0

    def next_epoch(self) -> None:
        """Orders of earlier epochs are void from now on. Stored replies stay, to answer what comes twice."""
        self.epoch = (self.epoch + 1) & 0xFFFF or 1
        self._newest = -1

    def greet(self, token: int, up_ms: int, busy: bool) -> int:
        """A host asks to be the owner. A silent owner is replaced, but never while armed or driven."""
        if token in FORBIDDEN_TOKENS:
            return reasons.OUT_OF_RANGE
        if token != self.token:
            if self.token and (busy or up_ms - self._heard_at < SILENT_OWNER_MS):
                return reasons.OWNED_BY_ANOTHER
            self.token = token
            self.next_epoch()
        self._heard_at = up_ms
        return reasons.OK

    def is_owner(self, token: object, up_ms: int) -> bool:
        """Whether the token is the owner's; hearing from the owner keeps it the owner."""
        if token == 0 or token != self.token:
            return False
        self._heard_at = up_ms
        return True

    def stored(self, kind: int, epoch: int, seq: int) -> bytes:
        """The reply once given to this very order, or empty."""
        for i in range(STORED):
            if self._keys[i] == (epoch, seq, kind):
                return self._replies[i]
        return b""

    def refusal(self, epoch: int, seq: int) -> int:
        """WRONG_EPOCH, STALE for a number not newer than the newest, or OK (and it is the newest now)."""
        if epoch != self.epoch:
            return reasons.WRONG_EPOCH
        if self._newest >= 0 and not 1 <= (seq - self._newest) & 0xFFFF <= NEWER_MOST:
            return reasons.STALE
        self._newest = seq
        return reasons.OK

    def store(self, kind: int, epoch: int, seq: int, reply: bytes) -> None:
        """Keep a reply for an order that comes twice."""
        self._keys[self._next] = (epoch, seq, kind)
        self._replies[self._next] = reply
        self._next = (self._next + 1) % STORED
