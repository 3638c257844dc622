"""What the simulated bench is made of beside the job. All invented; judgement where no source is named."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class SensorData:
    """One tachometer: targets a turn, how far out of place they are, how often an edge is lost or doubled."""

    targets: int
    placement_deg: float
    """Standard deviation of a target's place."""
    jitter_s: float = 0.0002
    lost: float = 0.0
    double: float = 0.0
    bounce_s: float = 0.002
    """The second edge of a doubled one follows within this."""


@dataclass(frozen=True, slots=True)
class BenchConstants:
    """SI units; torques at the table, spreads are standard deviations."""

    # Time
    step_s: float = 0.005
    control_s: float = 0.010

    # Motor and drive
    usual_load: float = 0.40
    """Share of the rated torque that the job takes with wet work and the lap in step."""
    torque_limit: float = 1.25
    """Of rated torque, either way: the drive can brake."""
    motor_lag_s: float = 0.015
    drive_bandwidth_rad_s: float = 30.0
    zero_speed_rad_s: float = 0.05
    """Asked for no speed, below this the drive lets go."""
    bearing_drag_nm: float = 0.5
    table_ripple: float = 0.004
    """Once a table turn, from a belt pulley out of round."""
    load_noise: float = 0.02
    """White, share of the load, at each reading."""
    load_floor: float = 0.003
    """White, share of rated torque, at each reading."""

    # Lap and post; torques as shares of the torque at which the lap stalls
    post_drag_viscous_nm_s: float = 0.002
    slow_wander: float = 0.010
    slow_wander_s: float = 30.0
    fast_wander: float = 0.010
    fast_wander_s: float = 0.4
    ripple_most: float = 0.025
    """Once a lap turn; drawn between 0.2 and 1 of it."""
    start_jerk: float = 0.45
    start_jerk_s: float = 8.0
    """The jerk of the first turns dies out with this time; drawn between 0.6 and 1.4 of it."""
    weights_radius_share: float = 0.5
    """Where weights without a stated radius stand, as a share of the lap's radius."""

    # Water
    dry_friction_rise: float = 0.35
    """A film gone dry raises friction by this share (judgement)."""
    resting_air_m_s: float = 0.1

    # Sensors
    table_sensor: SensorData = field(
        default_factory=lambda: SensorData(targets=24, placement_deg=0.15, lost=0.0002, double=0.0002)
    )
    lap_sensor: SensorData = field(
        default_factory=lambda: SensorData(targets=12, placement_deg=2.0, lost=0.004, double=0.004)
    )

    # Board
    enable_pulse_s: float = 0.1
    """Without edges on the enable line for this long, the drive's power drops."""
    watchdog_s: float = 1.0
    boot_s: float = 0.3
    cable_latency_s: float = 0.002
