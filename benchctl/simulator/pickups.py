"""A tachometer: targets pass a sensor; each a little out of place, some missed, some seen twice."""

from __future__ import annotations

import math
from random import Random

from benchctl.simulator.constants import SensorData

FULL_TURN = 2.0 * math.pi


class Pickup:
    """Gives the times at which edges come as the rotor turns forward: angles in radians, times in seconds."""

    def __init__(self, data: SensorData, random: Random) -> None:
        self._targets = data.targets
        spread = math.radians(data.placement_deg)
        room = 0.4 * FULL_TURN / data.targets
        self._offsets = [max(-room, min(room, random.gauss(0.0, spread))) for _ in range(data.targets)]
        self._random = random
        self._jitter_s = data.jitter_s
        self._bounce_s = data.bounce_s
        self.lost = data.lost
        self.double = data.double
        self.jitter_share = 0.0
        """Extra jitter as a share of the time between targets (a noisy sensor)."""
        self.dead = False
        self._count = 0
        self._last_s = -1.0
        self.next_rad = self._place(0)
        """The rotor's angle at which the next target passes."""

    def _place(self, count: int) -> float:
        return (count + 0.5) * FULL_TURN / self._targets + self._offsets[count % self._targets]

    def turned(self, before: float, after: float, from_s: float, step_s: float) -> list[float]:
        """Edge times while the angle went from `before` to `after` in `step_s` from `from_s`.

        A target's crossing is found on the straight line between the two angles. A rotor that turns back
        past a target gives no edge for it, and none when it comes again.
        """
        times: list[float] = []
        while self.next_rad <= after:
            share = (self.next_rad - before) / (after - before) if after > before else 1.0
            self._edge(from_s + min(1.0, max(0.0, share)) * step_s, times)
            self._count += 1
            self.next_rad = self._place(self._count)
        return times

    def _edge(self, at_s: float, times: list[float]) -> None:
        random = self._random
        gap_s, self._last_s = at_s - self._last_s, at_s
        if self.dead or random.random() < self.lost:
            return
        at_s += random.uniform(0.0, 2.0) * self._jitter_s
        if self.jitter_share:
            at_s += random.uniform(0.0, self.jitter_share * min(1.0, gap_s))
        times.append(at_s)
        if random.random() < self.double:
            times.append(at_s + random.uniform(0.1, 1.0) * self._bounce_s)
