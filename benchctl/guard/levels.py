"""A limit with a deadband: passed at the limit, let go only when well below it again."""

from __future__ import annotations


class Level:
    """Whether a value is over `high`; it stays over until it is below `high` less `deadband`."""

    def __init__(self, high: float, deadband: float) -> None:
        self.high, self.deadband = high, deadband
        self.over = False

    def see(self, value: float) -> bool:
        """Take the newest value. A value that is no number changes nothing."""
        if value > self.high:
            self.over = True
        elif value < self.high - self.deadband:
            self.over = False
        return self.over
