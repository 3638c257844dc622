"""A second generator of traces, with other assumptions, to show what lapwatch_traces.py alone would hide.

Here the lap obeys an equation of motion (friction torque over the contact against drag at the post), so
jerks, stops and wander come from drag and not from an imposed speed; friction, and with it the ratio, moves
as the film dries. The bench's manners differ from trace to trace: rate of reports, lag, noise and rounding of
the table's speed, gain, idle share and rounding of the load, clock, first report late, start in full run,
pauses in the recording, bounce up to 14 ms, jitter of each pulse. Stand-alone: imports nothing of the
project. The ranges are judgements.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.lapwatch_plant import RATIOS, Plant, make_plant
from tests.benchmarks.lapwatch_traces import Array, Sensor, Trace, Truth, finish

GRAVITY = 9.81
FINE_S, COARSE_S = 0.005, 0.01


@dataclass(frozen=True)
class Manner:
    """How one bench records; times in seconds."""

    reports_per_s: float
    report_jitter_s: float
    table_noise: float
    table_step_rpm: float
    table_lag_s: float
    table_gain: float
    load_full_percent: float
    idle_share: float
    load_lag_s: float
    load_step: float
    tick_s: float
    begins_s: float
    first_report_s: float
    full_run: bool
    set_ramps: bool
    pause: tuple[float, float] | None
    """From the start of the trace: when nothing was recorded, and for how long."""
    jitter_deg: float


def draw_manner(rng: np.random.Generator) -> Manner:
    """A bench's manners."""
    return Manner(
        reports_per_s=float(rng.choice([5.0, 10.0, 20.0, 20.0, 50.0])),
        report_jitter_s=float(rng.choice([0.0, 0.004])),
        table_noise=float(rng.uniform(0.0, 0.006)),
        table_step_rpm=float(rng.choice([0.001, 0.01, 0.1])),
        table_lag_s=float(rng.choice([0.0, 0.1, 0.3])),
        table_gain=float(rng.normal(1.0, 0.01)),
        load_full_percent=float(rng.uniform(12.0, 90.0)),
        idle_share=float(rng.uniform(0.0, 0.25)),
        load_lag_s=float(rng.uniform(0.0, 0.25)),
        load_step=float(rng.choice([0.01, 0.1, 0.5])),
        tick_s=float(rng.choice([1e-6, 1e-4, 1e-3, 1e-3])),
        begins_s=float(rng.choice([0.0, 12.3, 5e3, 2e6])),
        first_report_s=float(rng.choice([0.0, 0.0, 0.5, 3.0])),
        full_run=bool(rng.random() < 0.25),
        set_ramps=bool(rng.random() < 0.3),
        pause=(float(rng.uniform(30.0, 60.0)), float(rng.uniform(0.3, 8.0))) if rng.random() < 0.15 else None,
        jitter_deg=float(rng.choice([0.0, 0.1, 0.3])),
    )


def draw_bench(rng: np.random.Generator) -> tuple[Plant, float, float, float]:
    """Contact, drag torque (N m), load (N) and friction of a lap that turns freely at 0.3 or more."""
    while True:
        mirror = rng.uniform(0.10, 0.55)
        plant = make_plant(
            mirror,
            mirror * rng.uniform(0.5, 0.95),
            mirror * rng.uniform(0.22, 0.62),
            bool(rng.random() < 0.6),
        )
        load_n = rng.uniform(0.5, 1.6) * 2500.0 * plant.lap_radius_m**2 * math.pi
        friction = rng.uniform(0.25, 0.55)
        drag = rng.uniform(0.005, 0.06) * plant.lap_torque[0]
        if plant.ratio_under(drag) >= 0.3:
            return plant, float(drag * friction * load_n), float(load_n), float(friction)


def make_trace(
    scenario: str, seed: int, sensor: Sensor | None = None, length_s: float | None = None
) -> Trace:
    """A trace of a scenario of lapwatch_traces.py."""
    rng = np.random.default_rng([77, seed, sum(ord(c) * 31**i for i, c in enumerate(scenario)) % 2**31])
    sensor = sensor or Sensor(targets=int(rng.integers(1, 13)))
    manner = draw_manner(rng)
    bench = draw_bench(rng)
    rpm = float(rng.uniform(7.0, 40.0))
    free = bench[0].ratio_under(bench[1] / bench[2] / bench[3])
    onset_s = max(80.0, 22.0 * 60.0 / (rpm * free)) + float(rng.uniform(0.0, 30.0))
    total_s = length_s or onset_s + max(90.0, 14.0 * 60.0 / (rpm * free), 200.0 * (scenario == "slow_stall"))
    run = Run(rng, scenario, manner, bench, rpm, onset_s, total_s)
    run.turn()
    return run.record(sensor, seed)


class Run:
    """One run of the bench, step by step."""

    def __init__(
        self,
        rng: np.random.Generator,
        scenario: str,
        manner: Manner,
        bench: tuple[Plant, float, float, float],
        rpm: float,
        onset_s: float,
        total_s: float,
    ) -> None:
        self.rng, self.scenario, self.manner = rng, scenario, manner
        self.plant, self.drag_n_m, self.load_n, self.friction = bench
        self.onset_s = onset_s
        self.dt = COARSE_S if total_s > 900.0 else FINE_S
        self.times: Array = np.arange(1, int(total_s / self.dt)) * self.dt
        self.after = self.times - onset_s
        self.level = 1.0
        self.table_rpm = self._table(rpm)
        self.mu = self._friction()
        self.drag = self._drag()
        self.load_factor = np.where(self.after >= 0.0, 0.15, 1.0) if scenario == "off_post" else 1.0

    def _noise(self, sd: float, tau_s: float) -> Array:
        from scipy.signal import lfilter

        keep = math.exp(-self.dt / tau_s)
        white = self.rng.normal(0.0, sd * math.sqrt(1.0 - keep * keep), self.times.size)
        white[0] = self.rng.normal(0.0, sd)
        return np.asarray(lfilter([1.0], [1.0, -keep], white), dtype=np.float64)

    def _table(self, rpm: float) -> Array:
        """Speed asked for, and the true one: ramps with rounded corners, ripple, a sag."""
        rng, t = self.rng, self.times
        wanted = np.full(t.size, rpm)
        if self.scenario == "speed_change":
            wanted[self.after >= 0.0] = rng.uniform(5.0, 42.0)
        if self.scenario == "healthy":
            at = 90.0
            while (at := at + rng.uniform(150.0, 600.0)) < t[-1]:
                wanted[t >= at] = rng.uniform(6.0, 40.0)
        ramp = rng.uniform(0.4, 4.0) * self.dt
        now = rpm if self.manner.full_run else 0.0
        ramped = []
        for goal in wanted.tolist():
            now += min(ramp, max(-ramp, goal - now))
            ramped.append(now)
        true = _lagged(np.array(ramped), 0.4, self.dt) * (1.0 + self._noise(0.004, rng.uniform(0.1, 3.0)))
        if self.scenario == "sag":
            fall_s, back_s = rng.uniform(0.3, 3.0), rng.uniform(5.0, 30.0)
            self.level = float(rng.uniform(0.12, 0.40))
            shape = np.clip(self.after / fall_s, 0.0, 1.0) - np.clip((self.after - back_s) / fall_s, 0.0, 1.0)
            true = true * (1.0 - self.level * shape)
        self.set_rpm = np.array(ramped) if self.manner.set_ramps else wanted
        return np.maximum(true, 0.0)

    def _friction(self) -> Array:
        """Friction coefficient: rises as the film dries, falls in a few seconds at each wetting."""
        wet, level, left = [], float(self.rng.uniform(0.7, 1.0)), float(self.rng.uniform(60.0, 200.0))
        lost = self.dt / self.rng.uniform(300.0, 900.0)
        pouring = 0.0
        for _ in range(self.times.size):
            left -= self.dt
            if left < 0.0:
                pouring, left = float(self.rng.uniform(0.2, 0.5)), float(self.rng.uniform(90.0, 240.0))
            gain = min(pouring, 0.15 * self.dt)
            pouring -= gain
            level = min(1.0, max(0.0, level - lost + gain))
            wet.append(level)
        return self.friction * (1.0 + 0.35 * (1.0 - np.array(wet)))

    def _drag(self) -> Array:
        """Drag at the post, N m, as far as it depends on time only; the faults that are drag are in it."""
        rng, t, plant = self.rng, self.after, self.plant
        scale = self.friction * self.load_n
        self.free = plant.ratio_under(self.drag_n_m / scale)
        steep = max(1e-4, -float(np.interp(self.free, RATIOS, np.gradient(plant.lap_torque, RATIOS))))
        self.per_share = steep * self.free * scale
        """Torque that moves the ratio by its own size, to first order."""
        wander = self._noise(rng.uniform(0.01, 0.025), rng.uniform(20.0, 60.0))
        wander += self._noise(rng.uniform(0.01, 0.03), rng.uniform(0.2, 0.6))
        drag = self.drag_n_m - self.per_share * wander
        most, on = plant.lap_torque[0] * scale, t >= 0.0
        if self.scenario == "sudden_stall":
            drag = np.where(on, 4.0 * most, drag)
        elif self.scenario == "half_grab":
            self.level = float(rng.uniform(0.30, 0.65))
            goal = float(np.interp(self.free * (1.0 - self.level), RATIOS, plant.lap_torque)) * scale
            drag = np.where(on, drag + goal - self.drag_n_m, drag)
        elif self.scenario == "slow_stall":
            self.level = float(rng.uniform(20.0, 160.0))
            drag = drag + np.clip(t / self.level, 0.0, 2.0) * (1.05 * most - self.drag_n_m)
        elif self.scenario == "jerk_hes":
            at = self.onset_s
            while at < self.times[-1]:
                drag[(self.times >= at) & (self.times < at + rng.uniform(0.15, 0.9))] += most * rng.uniform(
                    0.3, 1.2
                )
                at += rng.exponential(3.0) + 0.8
        elif self.scenario in ("runaway", "off_post"):
            drag = drag * (1.0 - np.clip(t / rng.uniform(0.5, 8.0), 0.0, 1.0))
        return drag

    def _jerks(self) -> tuple[Array, float]:
        """Torque that comes once a lap turn, at each step, and cycles of binding in a lap turn (0: none)."""
        torque = np.full(self.times.size, self.rng.uniform(0.005, 0.04) * self.per_share)
        on = self.after >= 0.0
        if self.scenario == "jerk_oot":
            self.level = float(self.rng.uniform(0.15, 0.8))
            torque[on] += self.level * self.per_share
        if self.scenario == "startup":
            self.level = float(self.rng.uniform(0.2, 0.6))
            torque += self.level * self.per_share * np.exp(-self.times / self.rng.uniform(5.0, 15.0))
        if self.scenario == "jerk_bind":
            self.level = float(self.rng.uniform(0.4, 1.0))
            return torque, float(self.rng.uniform(1.0, 5.0))
        return torque, 0.0

    def turn(self) -> None:
        """The lap's equation of motion, in small steps of time."""
        plant, dt = self.plant, self.dt
        inertia = 0.5 * self.load_n / GRAVITY * plant.lap_radius_m**2
        jerks, binding = self._jerks()
        curve, last = plant.lap_torque.tolist(), len(RATIOS) - 1
        forced = self.scenario in ("runaway", "off_post")
        grip = (self.mu * self.load_n).tolist()
        drag, jerk, table = self.drag.tolist(), jerks.tolist(), (self.table_rpm * math.pi / 30.0).tolist()
        phase, twopi = self.rng.uniform(0.0, 6.28), 2.0 * math.pi
        lap_speed = table[0] * self.free
        angle, speeds, turned, cos = [], [], 0.0, math.cos
        first = int(self.onset_s / dt)
        for i in range(len(table)):
            omega = table[i]
            share = lap_speed / omega if omega > 1e-3 else 0.0
            at = min(1.0, max(0.0, share)) * last
            low = min(last - 1, int(at))
            torque = curve[low] + (curve[low + 1] - curve[low]) * (at - low)
            if forced and i >= first:
                torque, held = 0.5 * grip[i] * plant.lap_radius_m * (1.0 - share), 0.0
                resist = 0.0
            else:
                held = (turned * binding) % 1.0 - 0.5 if binding and i >= first else 0.0
                resist = drag[i] + jerk[i] * cos(twopi * turned + phase) + held * self.level * self.per_share
                torque *= grip[i]
            # Implicit in the slope of the friction torque, which is steep near step.
            slope = (
                grip[i]
                * max(0.01 * plant.lap_radius_m, (curve[low] - curve[low + 1]) * last)
                / max(omega, 0.05)
            )
            lap_speed += dt * (torque - resist) / (inertia + dt * slope)
            lap_speed = 0.0 if lap_speed < 0.0 else min(lap_speed, omega * 1.02)
            turned += lap_speed * dt / twopi
            angle.append(turned)
            speeds.append(lap_speed)
        self.angle: Array = np.array(angle)
        self.ratios: Array = np.where(
            self.table_rpm > 0.5, np.array(speeds) / np.maximum(self.table_rpm * math.pi / 30.0, 1e-3), 0.0
        )

    def record(self, sensor: Sensor, seed: int) -> Trace:
        """What the bench's sensors make of it."""
        manner, rng = self.manner, self.rng
        if self.scenario == "weak_sensor":
            self.level = float(rng.uniform(0.15, 0.65))
        pulses, places = self._pulses(sensor)
        status = self._status()
        if manner.pause is not None and manner.pause[0] + 60.0 < self.onset_s:
            begin, length = manner.pause
            pulses = pulses[(pulses < begin) | (pulses > begin + length)]
            status = status[(status[:, 0] < begin) | (status[:, 0] > begin + length)]
        status = status[status[:, 0] >= manner.first_report_s]
        status[:, 0] += manner.begins_s
        header = {
            "targets_per_turn": sensor.targets,
            "clock_tick_s": manner.tick_s,
            "mirror_radius_m": self.plant.mirror_radius_m,
            "lap_radius_m": self.plant.lap_radius_m,
            "post_offset_m": self.plant.post_offset_m,
        }
        twelfths = np.arange(0, int(self.angle[-1] * 12) + 1) / 12.0
        times = self.times + manner.begins_s
        trace = Trace(
            header, np.round((pulses + manner.begins_s) / manner.tick_s) * manner.tick_s, status,
            self.onset_s + manner.begins_s, self.scenario, seed, self.level,
            np.interp(twelfths, self.angle, times), 0.0, self.plant,
        )  # fmt: skip
        mirror = np.asarray(np.cumsum(self.table_rpm) * self.dt / 60.0, dtype=np.float64)
        return finish(trace, Truth(times, self.angle, mirror, self.ratios, self.set_rpm, places))

    def _pulses(self, sensor: Sensor) -> tuple[Array, Array]:
        rng, n = self.rng, sensor.targets
        places = np.sort((np.arange(n) / n + rng.normal(0.0, sensor.placement_deg / 360.0, n)) % 1.0)
        jitter = self.manner.jitter_deg / 360.0
        at = (np.arange(int(self.angle[-1]) + 2)[:, None] + places[None, :]).ravel()
        at = np.sort(at + rng.normal(0.0, jitter, at.size)) if jitter else at
        at = at[(at > self.angle[0]) & (at < self.angle[-1])]
        seconds = np.interp(at, self.angle + np.arange(self.angle.size) * 1e-12, self.times)
        lost = np.full(seconds.size, sensor.lost)
        if self.scenario in ("weak_sensor", "dead_sensor"):
            lost[seconds >= self.onset_s] = self.level
        seen = seconds[rng.random(seconds.size) >= lost]
        again = seen[rng.random(seen.size) < sensor.double]
        extra = [again + rng.uniform(0.0003, 0.014, again.size)]
        if self.scenario == "emi":
            hours = (self.times[-1] - self.onset_s) / 3600.0
            for start in rng.uniform(
                self.onset_s, self.times[-1], rng.poisson(rng.uniform(60.0, 300.0) * hours)
            ):
                extra.append(start + rng.uniform(0.0, rng.uniform(0.005, 0.08), rng.integers(3, 12)))
        return np.sort(np.concatenate([seen, *extra])), places

    def _status(self) -> Array:
        rng, manner = self.rng, self.manner
        at = np.arange(0.5 / manner.reports_per_s, self.times[-1], 1.0 / manner.reports_per_s)
        at = at + rng.uniform(0.0, manner.report_jitter_s, at.size)
        where = np.minimum(np.searchsorted(self.times, at), self.times.size - 1)
        table = _lagged(self.table_rpm, manner.table_lag_s, self.dt)[where] * manner.table_gain
        table = table * (1.0 + rng.normal(0.0, manner.table_noise, at.size))
        table = np.maximum(0.0, np.round(table / manner.table_step_rpm) * manner.table_step_rpm)
        torque = np.interp(self.ratios, RATIOS, self.plant.table_torque) * self.mu * self.load_factor
        usual = float(np.median(torque))
        load = (torque / usual + manner.idle_share) * (
            1.0 + self._noise(0.012, float(rng.uniform(4.0, 20.0)))
        )
        load = _lagged(load, manner.load_lag_s, self.dt)[where] / (1.0 + manner.idle_share)
        rated = float(rng.uniform(0.2, 0.8)) * manner.load_full_percent
        load = rated * load * (1.0 + rng.normal(0.0, 0.02, at.size)) + rng.normal(0.0, 0.3, at.size)
        load = np.round(np.maximum(0.0, load) / manner.load_step) * manner.load_step
        return np.column_stack([at, self.set_rpm[where], table, load])


def _lagged(values: Array, tau_s: float, dt: float) -> Array:
    from scipy.signal import lfilter

    if tau_s < dt:
        return values
    keep = math.exp(-dt / tau_s)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0])
