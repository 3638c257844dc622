"""The spin ratio of the last minute or two, sparsely."""

from __future__ import annotations

from collections import deque

EVERY_S = 2.0
KEPT = 64
AGO_S = 30.0


class History:
    """Keeps a spin ratio every two seconds."""

    def __init__(self) -> None:
        self._kept: deque[tuple[float, float]] = deque(maxlen=KEPT)

    def add(self, at_s: float, ratio: float) -> None:
        """Take a one-turn mean."""
        if not self._kept or at_s - self._kept[-1][0] >= EVERY_S:
            self._kept.append((at_s, ratio))

    def ago(self, at_s: float) -> float | None:
        """The ratio half a minute before `at_s`, or the oldest kept; None before any."""
        for when, ratio in reversed(self._kept):
            if when <= at_s - AGO_S:
                return ratio
        return self._kept[0][1] if self._kept else None

    def clear(self) -> None:
        """Forget."""
        self._kept.clear()
