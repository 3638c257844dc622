"""Letting the learned spacing follow clean turns a little, never far from what was accepted."""

from __future__ import annotations

from benchctl.lapwatch.placement import Spans
from benchctl.lapwatch.track import Track

BELOW_SEVERITY = 0.15
MOST = 0.007
"""Lap turns (2.5 degrees) that a gap may drift from its accepted width, so that no slow jerk is learned."""
LEAST_GAIN = 0.02


class Refine:
    """Follows the spacing of a steady lap, once a turn."""

    def __init__(self) -> None:
        self._accepted: tuple[float, ...] = ()
        self._turns = 0

    def accept(self, spans: Spans) -> None:
        """Take a spacing as known."""
        self._accepted = spans.widths
        self._turns = 0

    def turn(self, track: Track) -> None:
        """Take the last whole turn of the best reading, if none of its targets was lost."""
        count, recent = track.spans.count, track.best.recent
        if count < 2 or len(self._accepted) != count or len(recent) <= count:
            return
        row = recent[-1 - count :]
        if not 0.98 < row[-1][1] - row[0][1] < 1.02:
            return
        turn = row[-1][0] - row[0][0]
        self._turns += 1
        gain = max(1.0 / (self._turns + 6.0), LEAST_GAIN)
        widths = list(track.spans.widths)
        for k in range(count):
            target = (track.best.target + 1 + k) % count
            low, high = self._accepted[target] - MOST, self._accepted[target] + MOST
            new = widths[target] + gain * ((row[k + 1][0] - row[k][0]) / turn - widths[target])
            widths[target] = max(low, min(high, new))
        total = sum(widths)
        track.spans = Spans(tuple(width / total for width in widths))
