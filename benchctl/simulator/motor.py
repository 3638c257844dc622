"""Motor and drive: a speed loop with torque limit and lag. Torques are at the table."""

from __future__ import annotations

from benchctl.simulator.constants import BenchConstants


class Drive:
    """Follows a commanded speed while it has power; coasts without. Speeds in rad/s, torques in N m.

    The loop is proportional and integral on the motor's own speed; the motor's torque follows the loop
    with a lag. `slip` is the share of its speed that the belt loses on the way to the table.
    """

    def __init__(self, constants: BenchConstants, rated_nm: float, inertia_kg_m2: float) -> None:
        self.rated_nm = rated_nm
        self.limit_nm = constants.torque_limit * rated_nm
        self._gain = constants.drive_bandwidth_rad_s * inertia_kg_m2
        self._integral_gain = self._gain * constants.drive_bandwidth_rad_s / 4.0
        self._lag_s = constants.motor_lag_s
        self._let_go_rad_s = constants.zero_speed_rad_s
        self.torque_nm = 0.0
        self.slip = 0.0
        self._integral_nm = 0.0

    def off(self) -> None:
        """No power, no torque."""
        self.torque_nm = self._integral_nm = 0.0

    def step(self, dt: float, command_rad_s: float, table_rad_s: float) -> float:
        """One step under power; the torque it gives during it."""
        if command_rad_s == 0.0 and abs(table_rad_s) < self._let_go_rad_s:
            self._integral_nm -= self._integral_nm * dt / 0.05
        error = command_rad_s - table_rad_s / (1.0 - self.slip)
        limit = self.limit_nm
        wanted = self._gain * error + self._integral_nm
        if -limit < wanted < limit:
            self._integral_nm += self._integral_gain * error * dt
        elif wanted > limit:
            wanted = limit
        else:
            wanted = -limit
        self.torque_nm += (wanted - self.torque_nm) * min(1.0, dt / self._lag_s)
        return self.torque_nm
