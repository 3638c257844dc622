"""Silence of the board, in time during which this program listened. Pure in time."""

from __future__ import annotations

SILENT_S = 0.5
LONGEST_PAUSE_S = 0.2
"""A longer pause between two polls counts as this: what was said meanwhile may not have been read yet."""


class Silence:
    """No word for half a second of listening. A program that was itself held up has not heard a silence."""

    def __init__(self) -> None:
        self._listened_s: float | None = None
        self._polled_s = 0.0

    def poll(self, now_s: float) -> None:
        """Once a poll, before what has come is read."""
        if self._listened_s is not None:
            self._listened_s += min(now_s - self._polled_s, LONGEST_PAUSE_S)
        self._polled_s = now_s

    def broken(self) -> None:
        """A status came."""
        self._listened_s = 0.0

    @property
    def too_long(self) -> bool:
        """Whether a board that has spoken before is not heard any more."""
        return self._listened_s is not None and self._listened_s > SILENT_S
