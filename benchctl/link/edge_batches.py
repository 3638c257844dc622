"""Batches of edge stamps put in order: each stamp once, what comes late left out, what is lost counted."""

from __future__ import annotations

from benchctl.link.board_time import BoardTime
from benchctl.models.readings import LapPulse, TablePulse
from firmware_protocol import messages


class EdgeBatches:
    """Both sensors' running numbers. `missed` is how many stamps never came."""

    def __init__(self) -> None:
        self.missed = 0
        self._next: dict[int, int] = {}

    def restart(self) -> None:
        """The board began to count anew."""
        self._next.clear()

    def readings(self, edges: messages.Edges, at_s: float) -> list[LapPulse | TablePulse]:
        """The pulses of a batch that have not been seen; `at_s` is when the board sent it."""
        first = edges.first_number
        expected = self._next.get(edges.sensor, first)
        self.missed += max(0, first - expected)
        self._next[edges.sensor] = max(expected, first + len(edges.stamps_us))
        make = TablePulse if edges.sensor == messages.TABLE_SENSOR else LapPulse
        fresh = edges.stamps_us[max(0, expected - first) :]
        return [make(BoardTime.stamp_seconds(stamp, at_s)) for stamp in fresh]
