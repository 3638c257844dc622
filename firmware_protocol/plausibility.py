"""Whether what the board senses fits what it asks of the drive. Each check gives a stop reason, or 0.

The figures are design decisions of this project (none comes from a standard); each names its fault.
Speeds 0.001 rpm, loads 0.1 %, times ms. `tick` runs every 50 ms while the table is driven.
"""

from firmware_protocol import reasons
from firmware_protocol.edges import EdgeLine
from firmware_protocol.table_speed import NOISY_AT, TableSpeed

TICK_MS = 50
STEADY_MS = 500
FOLLOW_MS = 1400
LAG_MS = 300
OVERLOAD_MS = 300
STALL_MS = 500
NOISY_MS = 2000
DEAD_MS = 500
DEAD_AT_START_MS = 2000
GRAB_SETTLED_MS = 1000
KEPT_TICKS = 8
GRAB_TICK = 4
GRAB_LEAST_LOAD = 100
GRAB_DROP_MRPM = 7640
LAP_OFF_LEAST_MS = 600
ONE_TURN = 60000000


class Plausibility:
    """Checks for one run. `begin` starts them; `asked` is called each step; `tick` every 50 ms."""

    def __init__(self, table_edges_per_turn: int) -> None:
        self._three_gaps = 3 * ONE_TURN // table_edges_per_turn
        self._loads = [0] * KEPT_TICKS
        self._speeds = [0] * KEPT_TICKS
        self.begin(0, False)

    def begin(self, load_limit: int, lap_expected: bool) -> None:
        """A run begins."""
        self.load_limit = load_limit
        self.lap_expected = lap_expected
        self.reference_mrpm = 0
        self.steady_ms = 0
        self._asked_turn = 0
        self._run_ms = 0
        self._edges = 0
        self._over_ms = 0
        self._stall_ms = 0
        self._noisy_ms = 0
        self._off_ms = 0
        self._followed_mrpm = 0
        self._grab_from = 0
        self._lap_load = 0
        self._lap_edges = 0
        self._lap_seen = 0
        for i in range(KEPT_TICKS):
            self._loads[i] = 0
            self._speeds[i] = 0

    def asked(self, set_mrpm: int, target_mrpm: int, dt_ms: int) -> None:
        """The drive was asked for `set_mrpm` during `dt_ms`."""
        self._run_ms += dt_ms
        self._asked_turn += set_mrpm * dt_ms
        if set_mrpm >= self.reference_mrpm:
            self.reference_mrpm = set_mrpm
        self.steady_ms = self.steady_ms + dt_ms if set_mrpm == target_mrpm else 0

    def slacken(self, set_mrpm: int, down_mrpm_s: int, dt_ms: int) -> None:
        """Let the reference for overspeed fall at half the ramp rate: the table lags a falling ramp."""
        if self.reference_mrpm > set_mrpm:
            self.reference_mrpm = max(set_mrpm, self.reference_mrpm - down_mrpm_s * dt_ms // 2000)

    def speed_limit(self, ceiling_mrpm: int) -> int:
        """Faster than this is overspeed: 1.15 x the ramp + 2 rpm, or the ceiling + 2 rpm, the lower."""
        return min(self.reference_mrpm * 115 // 100, ceiling_mrpm) + 2000

    def sensor_dead(self, table: TableSpeed) -> int:
        """No edge for 0.5 s and three gaps at the speed asked for; 2 s where none came since the start."""
        if table.edges != self._edges:
            self._edges = table.edges
            self._asked_turn = 0
            return 0
        if self._asked_turn <= self._three_gaps or table.since_ms < DEAD_MS:
            return 0
        if self._edges == 0 and self._run_ms < DEAD_AT_START_MS:
            return 0
        return reasons.TABLE_SENSOR_DEAD

    def tick(self, set_mrpm: int, load: int, table: TableSpeed, lap: EdgeLine) -> int:
        """All slow checks while running; the first reason found, or 0."""
        speed = table.now_mrpm()
        reason = (
            self.overloaded(load)
            or self._stalled(set_mrpm, speed, load, table)
            or self._grabbed(speed, load)
            or self._lap_gone(load, lap)
            or self._noisy(table)
            or self._follows(set_mrpm, speed, load, table)
        )
        for i in range(KEPT_TICKS - 1):
            self._loads[i] = self._loads[i + 1]
            self._speeds[i] = self._speeds[i + 1]
        self._loads[KEPT_TICKS - 1] = load
        self._speeds[KEPT_TICKS - 1] = speed
        return reason

    def overloaded(self, load: int) -> int:
        """Load above the limit for 0.3 s."""
        self._over_ms = self._over_ms + TICK_MS if load > self.load_limit else 0
        return reasons.OVERLOAD if self._over_ms >= OVERLOAD_MS else 0

    def _settled(self, table: TableSpeed) -> bool:
        """At one speed for so long that all gaps in the measured mean belong to it, and no noise in them."""
        settled: bool = (
            self.steady_ms >= STEADY_MS
            and table.mean_mrpm > 0
            and table.noise < NOISY_AT
            and self.steady_ms > table.window_us // 1000 + table.since_ms + LAG_MS
        )
        return settled

    def _stalled(self, set_mrpm: int, speed: int, load: int, table: TableSpeed) -> int:
        """Under half the speed asked for 0.5 s while the motor pushes hard: the other face of overload."""
        pushing = load * 10 >= self.load_limit * 6
        slow = self._settled(table) and speed * 2 < set_mrpm
        self._stall_ms = self._stall_ms + TICK_MS if pushing and slow else 0
        return reasons.OVERLOAD if self._stall_ms >= STALL_MS else 0

    def _grabbed(self, speed: int, load: int) -> int:
        """Twice running: load up 60 % in 0.2 s, or 4 rad/s2 slower over 0.2 s with load up 20 % in 0.4 s."""
        if self.steady_ms < GRAB_SETTLED_MS:
            self._grab_from = 0
            return 0
        if self._grab_from:
            grabbed = load * 10 > self._grab_from * 16 or self._braked(speed, load)
            self._grab_from = 0
            return reasons.LAP_GRABBED if grabbed else 0
        before = self._loads[GRAB_TICK]
        if before >= GRAB_LEAST_LOAD and (load * 10 > before * 16 or self._braked(speed, load)):
            self._grab_from = before
        return 0

    def _braked(self, speed: int, load: int) -> bool:
        return self._speeds[GRAB_TICK] - speed > GRAB_DROP_MRPM and load * 10 > self._loads[0] * 12

    def _lap_gone(self, load: int, lap: EdgeLine) -> int:
        """No lap edge for 2.5 of its gaps (at least 0.6 s) and load down by 40 % since its last edges."""
        if not self.lap_expected:
            return 0
        if lap.count != self._lap_edges:
            self._lap_edges = lap.count
            self._lap_seen += 1
            self._lap_load = (self._lap_load * 3 + load) // 4 if self._lap_seen > 1 else load
            return 0
        if self._lap_seen < 4 or self.steady_ms < GRAB_SETTLED_MS or self._lap_load < GRAB_LEAST_LOAD:
            return 0
        silent = max(LAP_OFF_LEAST_MS, lap.gap_us // 400)
        return reasons.LAP_OFF if lap.since_ms > silent and load * 10 < self._lap_load * 6 else 0

    def _noisy(self, table: TableSpeed) -> int:
        """More than 5 % bad edges, kept up for 2 s."""
        self._noisy_ms = self._noisy_ms + TICK_MS if table.noise >= NOISY_AT else 0
        return reasons.TABLE_SENSOR_NOISY if self._noisy_ms >= NOISY_MS else 0

    def _follows(self, set_mrpm: int, speed: int, load: int, table: TableSpeed) -> int:
        """Off by more than 10 % outside ramps. A table that did follow this same speed and now lags without
        more load has a slipping belt; otherwise the drive does not follow (2 rpm at least)."""
        if not self._settled(table):
            self._off_ms = 0
            return 0
        error = set_mrpm - speed
        size = error if error >= 0 else -error
        if size * 20 < set_mrpm:
            self._followed_mrpm = set_mrpm
        tenth = set_mrpm // 10
        light = load * 10 < self.load_limit * 7
        slip = self._followed_mrpm == set_mrpm and light and error > max(500, tenth)
        if not slip and size <= max(2000, tenth):
            self._off_ms = 0
            return 0
        self._off_ms += TICK_MS
        if self._off_ms < FOLLOW_MS:
            return 0
        return reasons.BELT_SLIP if slip else reasons.DRIVE_NOT_FOLLOWING
