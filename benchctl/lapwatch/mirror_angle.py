"""How far the mirror has turned: the ruler against which lap pulses are measured.

Counting in mirror angle instead of seconds leaves the spin ratio untouched by ramps, changes of speed
and a table that sags.
"""

from __future__ import annotations


class MirrorAngle:
    """Turns of the mirror against time, from reports of table speed and, where there are any, table edges.

    Between edges the reported speed is integrated (trapezoid); an edge sets the angle right to the nearest
    whole number of edges, so that small errors of the reported speed do not add up.
    """

    def __init__(self, edges_per_turn: int | None = None) -> None:
        self.edges_per_turn = edges_per_turn
        self.at_s = -1.0
        self.turns = 0.0
        self.turns_per_s = 0.0
        self._before = (-1.0, 0.0)
        self._edge: tuple[float, float] | None = None

    def report(self, at_s: float, table_rpm: float) -> None:
        """Take a report of table speed (rpm); reports come in time order."""
        rate = table_rpm / 60.0
        elapsed = at_s - self.at_s
        if self.at_s < 0.0:
            self.at_s, self.turns_per_s = at_s, rate
            self._before = (at_s, 0.0)
            return
        if elapsed <= 0.0:
            return
        self._before = (self.at_s, self.turns)
        self.turns += 0.5 * (rate + self.turns_per_s) * elapsed
        self.at_s, self.turns_per_s = at_s, rate

    def edge(self, at_s: float) -> None:
        """Take a table edge: the angle becomes a whole number of edges past the last one."""
        if self.edges_per_turn is None or self.at_s < 0.0:
            return
        guess = self.at(at_s)
        if self._edge is not None:
            since = (guess - self._edge[1]) * self.edges_per_turn
            steps = round(since)
            if steps < 1:
                return
            if abs(since - steps) < 0.35 and steps <= self.edges_per_turn:
                exact = self._edge[1] + steps / self.edges_per_turn
                self.turns += exact - guess
                self._before = (self._before[0], self._before[1] + exact - guess)
                guess = exact
        self._edge = (at_s, guess)

    def at(self, at_s: float) -> float:
        """Mirror turns at a time near the last report."""
        ahead = at_s - self.at_s
        if ahead >= 0.0:
            return self.turns + self.turns_per_s * ahead
        then_s, then = self._before
        if at_s >= then_s and self.at_s > then_s:
            return then + (self.turns - then) * (at_s - then_s) / (self.at_s - then_s)
        return self.turns + self.turns_per_s * ahead
