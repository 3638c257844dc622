"""The run permit: it lives 600 ms and dies unless renewed in time by a host that sees fresh status.

A renewal quotes the board's own time from the newest status the host has. One that quotes a time older
than the lease is refused even if it arrives whole, and none carries the permit further than one lease and
200 ms past the time it quotes; so frames held back on the way do not keep the table turning. The 200 ms are
two status periods, so that one lost status costs no life of the permit.
"""

LEASE_MS = 600
QUOTE_SLACK_MS = 200
MASK32 = 0xFFFFFFFF


class Permit:
    """Times are the board's uptime in ms, which does not wrap; only the quoted time is u32."""

    def __init__(self) -> None:
        self._until_ms = 0
        self._live = False

    def grant(self, up_ms: int) -> None:
        """Start a new permit."""
        self._live = True
        self._until_ms = up_ms + LEASE_MS

    def end(self) -> None:
        """No permit any more; only `grant` brings one back."""
        self._live = False

    def renew(self, quoted_ms: int, now_ms: int, up_ms: int) -> bool:
        """Carry a living permit on. False, and nothing changed, where it is dead or the quote is stale."""
        if not self.live(up_ms):
            return False
        age = quote_age(quoted_ms, now_ms)
        if age < 0 or age > LEASE_MS:
            return False
        until = up_ms + min(LEASE_MS, LEASE_MS + QUOTE_SLACK_MS - age)
        if until > self._until_ms:
            self._until_ms = until
        return True

    def live(self, up_ms: int) -> bool:
        """Whether the table may turn at this moment as far as the permit goes."""
        return self._live and up_ms < self._until_ms

    def left_ms(self, up_ms: int) -> int:
        """What is left of it; 0 when dead."""
        return self._until_ms - up_ms if self.live(up_ms) else 0


def quote_age(quoted_ms: int, now_ms: int) -> int:
    """Age in ms of a quoted u32 board time, across the wrap; -1 where it lies in the future."""
    age = (now_ms - quoted_ms) & MASK32
    return -1 if age > 0x7FFFFFFF else age
