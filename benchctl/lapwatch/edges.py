"""Edges that come in bunches: bounce of one target, or a burst of interference."""

from __future__ import annotations

from collections import deque

BOUNCE_S = 0.015
"""Edges this close together are one target (reed switches and bare contacts; common practice, no source)."""
LONGEST_S = 0.10
SHARE_OF_GAP = 0.6
"""Three edges within this share of the usual gap are not three targets."""
QUIET_S = 0.03
"""A burst is over when no edge has come for this long."""
MANY = 5


class Bursts:
    """Finds bursts: edges too many to be targets, too far apart to be the bounce of one."""

    def __init__(self) -> None:
        self._last: deque[float] = deque([-1e9] * MANY, maxlen=MANY)
        self._until_s = -1.0

    def edge(self, at_s: float, gap_s: float) -> float | None:
        """Take an edge; `gap_s` is the usual time between targets.

        None for an edge that may be a target; else the time at which the burst began.
        """
        last = self._last
        last.append(at_s)
        if at_s < self._until_s:
            self._until_s = at_s + QUIET_S
            return at_s
        window = min(LONGEST_S, SHARE_OF_GAP * gap_s)
        spread = at_s - last[-3]
        if BOUNCE_S < spread < window or at_s - last[0] < min(BOUNCE_S, window):
            self._until_s = at_s + QUIET_S
            return next(edge for edge in last if at_s - edge < window)
        return None
