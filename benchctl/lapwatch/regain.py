"""After silence: the signs that the lap turns again, or never stopped."""

from __future__ import annotations

import math

from benchctl.lapwatch.absence import slowest_at
from benchctl.lapwatch.levels import Levels
from benchctl.lapwatch.reading import Reading
from benchctl.lapwatch.track import Track

SLOWEST_MOVING = math.log(0.35)
"""A lap whose awaited target comes at this share of its usual speed, in log ratio, had not stopped."""
AGAIN_TURNS, AGAIN_SHARE = 1.5, 0.4
"""The lap turns again when it has gone so far, with this share of the pulses seen."""
SLOWEST_AGAIN, NEAR_USUAL = -1.2, 0.15
"""... and not slower than this, in log ratio; so near the usual ratio it had been turning all along."""


class Regain:
    """Looks at the pulses that come after the lap was called stopped or its pickup silent."""

    def __init__(self, levels: Levels, count: int) -> None:
        self._levels = levels
        self._least = math.ceil(max(2.0, AGAIN_SHARE * AGAIN_TURNS * count))
        self._from_lap, self._awaited = 0.0, False

    def silent(self, lap_turns: float) -> None:
        """The silence was announced at this many lap turns, while a target was awaited."""
        self._from_lap, self._awaited = lap_turns, True

    def lost(self) -> None:
        """Where the lap stands is not known any more."""
        self._from_lap = 0.0

    def came(self, track: Track, turns: float) -> bool:
        """Whether the awaited target came after all, at this mirror angle and fast enough."""
        awaited, self._awaited = self._awaited, False
        usual = self._levels.habits.usual
        return awaited and usual is not None and slowest_at(track, turns) > usual + SLOWEST_MOVING

    def misses(self, reading: Reading) -> bool:
        """Whether it was the pickup: the lap is near its usual ratio, with many targets lost."""
        usual = self._levels.habits.usual
        near = usual is None or abs(reading.track - usual) < NEAR_USUAL
        return near and reading.weak > self._levels.weak_limit

    def turning(self, reading: Reading, pulses: int) -> bool:
        """Whether it has turned for long enough, with so many pulses since."""
        usual = self._levels.habits.usual
        slow = usual is not None and reading.track < usual + SLOWEST_AGAIN
        return not slow and pulses >= self._least and reading.lap - self._from_lap >= AGAIN_TURNS
