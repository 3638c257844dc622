"""Edges that come in bunches: bounce of one target, or a burst of interference."""

from __future__ import annotations

from collections import deque
from enum import IntEnum

BOUNCE_S = 0.015
"""Edges this close together are one target (reed switches and bare contacts; common practice, no source)."""
BOUNCE_SHARE = 0.3
LONGEST_S = 0.10
SHARE_OF_GAP = 0.6
"""Three edges within this share of the usual gap are not three targets."""
QUIET_S = 0.03
"""A burst is over when no edge has come for this long."""
MANY = 5


class Edge(IntEnum):
    """What an edge may be."""

    TARGET = 0
    BOUNCE = 1
    BURST = 2


class Bursts:
    """Sorts edges: a target, the bounce of one, or a burst - too many for targets, too long for bounce."""

    def __init__(self) -> None:
        self._last: deque[float] = deque([-1e9] * MANY, maxlen=MANY)
        self._until_s = -1.0
        self.began_s = -1.0
        """When the present burst began."""

    def sort(self, at_s: float, gap_s: float) -> Edge:
        """Say what an edge is; `gap_s` is the usual time between targets."""
        last = self._last
        before = last[-1]
        last.append(at_s)
        if at_s < self._until_s:
            self._until_s = at_s + QUIET_S
            return Edge.BURST
        window = min(LONGEST_S, SHARE_OF_GAP * gap_s)
        if BOUNCE_S < at_s - last[-3] < window or at_s - last[0] < min(BOUNCE_S, window):
            self._until_s = at_s + QUIET_S
            self.began_s = next(edge for edge in last if at_s - edge < window)
            return Edge.BURST
        return Edge.BOUNCE if at_s - before < min(BOUNCE_S, BOUNCE_SHARE * gap_s) else Edge.TARGET
