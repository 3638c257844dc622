"""What holds the lap back at its post: drag, and everything that makes a lap turn unevenly.

All but the job's own drag are shares of the torque at which the lap stalls, so that a share of 0.01 slows
the lap by about 1 % (the lag grows in proportion with drag, from none to stall; a rule of thumb computed
for the neutral offset). Ranges: ratio wander 1-3 % within 20-60 s and 0.2-0.6 s, once-per-turn ripple
0.5-4 %, a jerk at the start that dies out in 10-35 s (judgement; nobody has measured a real lap for this).
"""

from __future__ import annotations

import math
from random import Random

from benchctl.simulator.constants import BenchConstants

FULL_TURN = 2.0 * math.pi
WANDER_EVERY_S = 0.05


class PostDrag:
    """The drag torque at the post, N m, anew for each step. Seeded; each purpose has its own stream."""

    def __init__(self, constants: BenchConstants, job_drag_nm: float, seed: int) -> None:
        c = constants
        shape = Random(f"{seed} unevenness")
        self.job_drag_nm = job_drag_nm
        self.extra_nm = 0.0
        """Added by a mishap."""
        self.binding = 0.0
        """Share of the stall torque by which the post winds up and lets go, some times a lap turn."""
        self._ripple = c.ripple_most * shape.uniform(0.2, 1.0)
        self._phase = shape.uniform(0.0, FULL_TURN)
        self._bindings_per_turn = shape.randint(4, 8)
        self._start_jerk = c.start_jerk
        self._start_jerk_s = c.start_jerk_s * shape.uniform(0.6, 1.4)
        self._slow = (c.slow_wander, math.exp(-WANDER_EVERY_S / c.slow_wander_s))
        self._fast = (c.fast_wander, math.exp(-WANDER_EVERY_S / c.fast_wander_s))
        self._random = Random(f"{seed} wander")
        self._slow_now = self._random.gauss(0.0, c.slow_wander)
        self._fast_now = 0.0
        self._wander_at_s = 0.0

    def now_nm(self, at_s: float, turned_s: float, lap_rad: float, stall_nm: float) -> float:
        """Drag at a moment: `turned_s` since the lap began to turn, `stall_nm` what would stall it now."""
        if at_s >= self._wander_at_s:
            self._wander(at_s)
        share = self._slow_now + self._fast_now + self._ripple * math.sin(lap_rad + self._phase)
        jerk = self.binding
        if turned_s < 8.0 * self._start_jerk_s:
            jerk += self._start_jerk * math.exp(-turned_s / self._start_jerk_s)
        if jerk:
            wound = lap_rad * self._bindings_per_turn / FULL_TURN % 1.0
            share += min(jerk, 0.85) * wound
        drag = self.job_drag_nm + share * stall_nm
        return (drag if drag > 0.0 else 0.0) + self.extra_nm

    def _wander(self, at_s: float) -> None:
        """Two slow random walks that return to nothing (Ornstein-Uhlenbeck), stepped every 50 ms."""
        self._wander_at_s = at_s + WANDER_EVERY_S
        gauss = self._random.gauss
        spread, keep = self._slow
        self._slow_now = keep * self._slow_now + spread * math.sqrt(1.0 - keep * keep) * gauss(0.0, 1.0)
        spread, keep = self._fast
        self._fast_now = keep * self._fast_now + spread * math.sqrt(1.0 - keep * keep) * gauss(0.0, 1.0)
