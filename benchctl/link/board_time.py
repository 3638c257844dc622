"""The board's clock: 32-bit counters unwrapped, and its offset from the host's clock."""

from __future__ import annotations

from collections import deque

WRAP = 1 << 32
ROUND_TRIPS = 30
LATEST_MS = 10_000
"""A time further back than this is no late frame: the board began anew and its first words were lost."""


class BoardTime:
    """Turns the wire's wrapping milliseconds and microseconds into seconds since the board's start."""

    def __init__(self) -> None:
        self.newest_ms: int | None = None
        """The newest header time that was seen, as it stands on the wire."""
        self._turns = 0
        self._trips: deque[tuple[float, float]] = deque(maxlen=ROUND_TRIPS)

    def restart(self) -> None:
        """The board began anew: so does its clock."""
        self.newest_ms, self._turns = None, 0
        self._trips.clear()

    def began_anew(self, t_ms: int) -> bool:
        """Whether a header's time lies too far back to be a late frame's, and is no wrap."""
        return self.newest_ms is not None and LATEST_MS < (self.newest_ms - t_ms) % WRAP < WRAP // 2

    def seconds(self, t_ms: int) -> float:
        """Seconds for a header's time, across the wrap; a late frame's lies before the newest."""
        last = self.newest_ms
        ahead = 0 if last is None else (t_ms - last) % WRAP
        if last is not None and ahead >= WRAP // 2:
            turns = self._turns - 1 if t_ms > last else self._turns
            return (turns * WRAP + t_ms) / 1000.0
        if last is not None and t_ms < last:
            self._turns += 1
        self.newest_ms = t_ms
        return (self._turns * WRAP + t_ms) / 1000.0

    @staticmethod
    def stamp_seconds(stamp_us: int, sent_s: float) -> float:
        """Seconds for a stamp, a little older than the message that was sent at `sent_s`."""
        age_us = (round(sent_s * 1e6) - stamp_us) % WRAP
        if age_us > WRAP // 2:
            age_us -= WRAP
        return sent_s - age_us / 1e6

    def round_trip(self, sent_s: float, received_s: float, board_s: float) -> None:
        """One exchange: sent and received by the host's clock, answered at `board_s` by the board's."""
        self._trips.append((received_s - sent_s, board_s - (sent_s + received_s) / 2.0))

    @property
    def offset_s(self) -> float | None:
        """Board time minus host time from the quickest of the last exchanges; good to half its length."""
        return min(self._trips)[1] if self._trips else None
