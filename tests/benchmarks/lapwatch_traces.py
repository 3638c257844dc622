"""Seeded traces of lap pulses and status reports, healthy and faulty, with the truth beside them.

Stand-alone: imports nothing of the project. The ranges are judgements (no recordings of a real lap exist):
load 25-37 kg, friction 0.25-0.55, wetness lost in 300-900 s and made good each 90-240 s, friction up 35 % as
it dries, ratio wander 1-3 % slow and 1-3.5 % fast, once-per-turn ripple 0.5-4 %, load noise 2 % white and
1.2 % slow and 0.3 % of rating, table ripple 0.4 %. Half the laps are soft (even pressure), half stiff.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.lapwatch_plant import Plant, make_plant

Array = NDArray[np.float64]

FAULTS = (
    "startup", "jerk_oot", "jerk_bind", "jerk_hes", "slow_stall", "sudden_stall", "half_grab",
    "runaway", "off_post", "sag", "dead_sensor", "weak_sensor", "emi",
)  # fmt: skip


@dataclass(frozen=True)
class Sensor:
    """The lap's pickup: scatter of the targets, share of pulses lost and doubled, bursts of interference."""

    targets: int = 6
    placement_deg: float = 5.0
    lost: float = 0.01
    double: float = 0.01
    bursts_per_hour: float = 0.0
    tick_s: float = 0.001
    jitter_deg: float = 0.0


@dataclass
class Trace:
    """What the watcher is given, and what was true. Times in seconds, speeds in rpm, load in percent."""

    header: dict[str, Any]
    pulses: Array
    status: Array
    """Columns: time, speed asked for, speed measured, load."""
    onset_s: float
    scenario: str
    seed: int
    fault_level: float
    lap_s: Array
    """Times at which the lap has turned by twelfths of a turn."""
    jump: float
    plant: Plant
    facts: dict[str, float] = field(default_factory=dict)
    loss: Array = field(default_factory=lambda: np.zeros((1, 2)))
    """Time, and the share of the ratio before the onset that is gone (mean of a second)."""

    def turns_between(self, start_s: float, end_s: float) -> float:
        """True lap turns between two times."""
        grid = np.arange(self.lap_s.size) / 12.0
        a, b = np.interp([start_s, end_s], self.lap_s, grid)
        return float(b - a)

    def true_severity(self, mirror_turns_at: Array, from_s: float, to_s: float) -> float:
        """Median over the window of (max - min) / (2 mean) of the true ratio in 1.25 turns."""
        inside = (self.lap_s >= from_s) & (self.lap_s <= to_s)
        angle = mirror_turns_at[inside]
        if angle.size < 18:
            return 0.0
        ratio = 1.0 / 12.0 / np.maximum(np.diff(angle), 1e-6)
        windows = np.lib.stride_tricks.sliding_window_view(ratio, 15)
        severity = (windows.max(1) - windows.min(1)) / (2.0 * windows.mean(1))
        return float(np.median(severity))

    def events(self) -> list[tuple[float, int, float, float, float]]:
        """Pulses (kind 0) and reports (kind 1) in time order."""
        rows = [(float(t), 0, 0.0, 0.0, 0.0) for t in self.pulses]
        rows += [(float(t), 1, float(a), float(b), float(c)) for t, a, b, c in self.status]
        rows.sort()
        return rows

    def lines(self) -> list[dict[str, float]]:
        """The trace as the lines of a trace file."""
        out: list[dict[str, float]] = [dict(self.header)]
        for at_s, kind, set_rpm, table_rpm, load in self.events():
            if kind == 0:
                out.append({"pulse_s": at_s})
            else:
                out.append(
                    {"status_s": at_s, "set_rpm": set_rpm, "table_rpm": table_rpm, "load_percent": load}
                )
        return out


def _wander(rng: np.random.Generator, steps: int, dt: float, sd: float, tau_s: float) -> Array:
    """Ornstein-Uhlenbeck noise."""
    from scipy.signal import lfilter

    keep = math.exp(-dt / tau_s)
    noise = rng.normal(0.0, sd * math.sqrt(1.0 - keep * keep), steps)
    noise[0] = rng.normal(0.0, sd)
    return np.asarray(lfilter([1.0], [1.0, -keep], noise), dtype=np.float64)


def draw_plant(rng: np.random.Generator) -> tuple[Plant, float]:
    """A set-up whose lap turns freely at 0.25 or more, and its pivot drag over (friction x load), metres."""
    while True:
        mirror = rng.uniform(0.20, 0.36)
        lap = mirror * rng.uniform(0.55, 0.80)
        offset = mirror * rng.uniform(0.30, 0.65)
        plant = make_plant(mirror, lap, offset, bool(rng.random() < 0.5))
        drag = rng.uniform(0.002, 0.010)
        if plant.ratio_under(drag) >= 0.25:
            return plant, drag


@dataclass
class _Run:
    """Everything that varies with time in one trace, on a grid of `dt`."""

    rng: np.random.Generator
    dt: float
    steps: int
    set_rpm: Array
    table_rpm: Array
    drag: Array
    """Drag over (friction x load), metres."""
    friction: Array
    ratio_factor: Array
    ripple: float
    ripple_phase: float
    jerk: Array
    """Once-per-turn amplitude."""
    forced: Array
    """Ratio that the lap is forced to; NaN where it is free."""
    load_factor: Array
    bind: tuple[float, float, float] | None = None
    """Cycles a mirror turn, share of the cycle in which the hub sticks and winds up, depth."""
    bind_from: int = 0


def make_trace(
    scenario: str, seed: int, sensor: Sensor | None = None, length_s: float | None = None
) -> Trace:
    """A trace of a scenario: "healthy", "speed_change", "rewet" or one of FAULTS."""
    rng = np.random.default_rng([seed, sum(ord(c) * 31**i for i, c in enumerate(scenario)) % 2**31])
    sensor = sensor or Sensor(targets=int(rng.choice([1, 3, 6, 12])))
    plant, drag = draw_plant(rng)
    rpm = float(rng.uniform(8.0, 38.0))
    free = plant.ratio_under(drag)
    warm_s = max(75.0, 20.0 * 60.0 / (rpm * free)) + rng.uniform(0.0, 40.0)
    total = length_s or warm_s + max(60.0, 12.0 * 60.0 / (rpm * free), _needs(scenario))
    dt = 0.02 if scenario in ("healthy", "weak_sensor", "dead_sensor", "emi") else 0.005
    run = _quiet_run(rng, dt, total, rpm, drag, many_speeds=scenario == "healthy")
    level = _apply(scenario, run, plant, warm_s, free)
    return _record(run, plant, sensor, scenario, seed, warm_s, level)


def _needs(scenario: str) -> float:
    return {"slow_stall": 180.0, "weak_sensor": 240.0, "startup": 60.0}.get(scenario, 60.0)


def _quiet_run(
    rng: np.random.Generator, dt: float, total: float, rpm: float, drag: float, many_speeds: bool
) -> _Run:
    steps = int(total / dt)
    set_rpm = np.full(steps, rpm)
    if many_speeds:
        at = 60.0
        while (at := at + rng.uniform(120.0, 900.0)) < total:
            set_rpm[int(at / dt) :] = rng.uniform(6.0, 40.0)
    slope = rng.uniform(0.5, 3.0) * dt
    table = np.empty(steps)
    now = 0.0
    changes = np.nonzero(np.diff(set_rpm))[0] + 1
    bounds = [0, *changes.tolist(), steps]
    for a, b in pairwise(bounds):
        goal = set_rpm[a]
        ramp = now + np.sign(goal - now) * slope * np.arange(1, b - a + 1)
        table[a:b] = np.minimum(ramp, goal) if goal >= now else np.maximum(ramp, goal)
        now = table[b - 1]
    table *= 1.0 + _wander(rng, steps, dt, 0.004, rng.uniform(0.2, 2.0))
    factor = 1.0 + _wander(rng, steps, dt, rng.uniform(0.01, 0.03), rng.uniform(20.0, 60.0))
    factor += _wander(rng, steps, dt, rng.uniform(0.01, 0.035), rng.uniform(0.2, 0.6))
    return _Run(
        rng, dt, steps, set_rpm, table, np.full(steps, drag), _friction(rng, steps, dt), factor,
        ripple=rng.uniform(0.005, 0.04), ripple_phase=rng.uniform(0.0, 2.0 * math.pi),
        jerk=np.zeros(steps), forced=np.full(steps, np.nan), load_factor=np.ones(steps),
    )  # fmt: skip


def _friction(rng: np.random.Generator, steps: int, dt: float) -> Array:
    """Friction coefficient: up as the film dries, down at each wetting."""
    wet, lost = np.ones(steps), dt / rng.uniform(300.0, 900.0)
    at, level = 0, rng.uniform(0.7, 1.0)
    while at < steps:
        n = max(1, int(rng.uniform(90.0, 240.0) / dt))
        part = np.maximum(0.0, level - lost * np.arange(n))[: steps - at]
        wet[at : at + n] = part
        at, level = at + n, float(min(1.0, part[-1] + rng.uniform(0.2, 0.6)))
    return np.asarray(rng.uniform(0.25, 0.55) * (1.0 + 0.35 * (1.0 - wet)))


def _apply(scenario: str, run: _Run, plant: Plant, onset_s: float, free: float) -> float:
    """Put the fault into the run; its level is a number that means something for that fault."""
    rng, dt, n = run.rng, run.dt, int(onset_s / run.dt)
    after = np.arange(run.steps) - n
    t = after * dt
    on = after >= 0
    if scenario == "sudden_stall":
        run.forced[on] = 0.0
        return 1.0
    if scenario == "half_grab":
        level = rng.uniform(0.30, 0.65)
        run.forced[on] = free * (1.0 - level)
        return float(level)
    if scenario == "slow_stall":
        level = rng.uniform(20.0, 160.0)
        reach = plant.lap_torque[0] * 1.05 - run.drag[0]
        run.drag[on] += reach * np.minimum(1.0, t[on] / level)
        return float(level)
    if scenario == "runaway":
        run.forced[on] = free + (1.0 - free) * np.minimum(1.0, t[on] / rng.uniform(0.5, 8.0))
        return float(1.0 - free)
    if scenario == "off_post":
        run.forced[on] = 1.0
        run.load_factor[on] = rng.uniform(0.0, 0.3)
        return 1.0
    if scenario == "sag":
        level = rng.uniform(0.12, 0.40)
        depth = 1.0 - level * np.clip(t / rng.uniform(0.3, 3.0), 0.0, 1.0)
        back = rng.uniform(5.0, 30.0)
        depth = np.where(t > back, np.minimum(1.0, depth + (t - back) * 0.3), depth)
        run.table_rpm *= depth
        return float(level)
    if scenario == "speed_change":
        goal = rng.uniform(5.0, 42.0)
        run.set_rpm[on] = goal
        start = run.table_rpm[n]
        move = np.clip(t / (abs(goal - start) / rng.uniform(0.5, 4.0) + 1e-6), 0.0, 1.0)
        run.table_rpm[on] = (start + (goal - start) * move[on]) * (run.table_rpm[on] / start) ** 0.5
        return float(goal / start)
    return _apply_jerk(scenario, run, t, on, n)


def _apply_jerk(scenario: str, run: _Run, t: Array, on: NDArray[np.bool_], n: int) -> float:
    rng = run.rng
    if scenario == "startup":
        level = rng.uniform(0.2, 0.6)
        run.jerk += level * np.exp(-np.arange(run.steps) * run.dt / rng.uniform(5.0, 15.0))
        return float(level)
    if scenario == "jerk_oot":
        level = rng.uniform(0.12, 0.62)
        run.jerk[on] = level * np.minimum(1.0, t[on] / rng.uniform(0.05, 1.0))
        return float(level)
    if scenario == "jerk_bind":
        run.bind = (rng.uniform(4.0, 15.0), rng.uniform(0.3, 0.7), rng.uniform(0.4, 1.0))
        run.bind_from = n
        return run.bind[2]
    if scenario == "jerk_hes":
        at, level = float(n) * run.dt, rng.uniform(0.4, 1.0)
        while at < run.steps * run.dt:
            i, j = int(at / run.dt), int((at + rng.uniform(0.15, 0.9)) / run.dt)
            run.ratio_factor[i:j] *= 1.0 - level * rng.uniform(0.6, 1.0)
            at += rng.exponential(3.0) + 0.8
        return float(level)
    return 0.0


def _turn(run: _Run, plant: Plant) -> tuple[Array, Array, Array]:
    """Lap angle and mirror angle (turns) and spin ratio at every step."""
    rng, dt = run.rng, run.dt
    drags = np.unique(run.drag) if np.ptp(run.drag) == 0 else np.linspace(run.drag.min(), run.drag.max(), 200)
    curve = np.array([plant.ratio_under(d) for d in drags])
    goal = np.interp(run.drag, drags, curve) * run.ratio_factor
    goal = np.where(np.isnan(run.forced), goal, run.forced * run.ratio_factor)
    keep = math.exp(-dt / rng.uniform(0.02, 0.16))
    table = run.table_rpm / 60.0
    angle, ratios = np.empty(run.steps), np.empty(run.steps)
    speed, at, mirror, cos, tau = 0.0, 0.0, 0.0, math.cos, 2.0 * math.pi
    phase, ripple, bind = run.ripple_phase, run.ripple, run.bind
    jerks, goals, tables = run.jerk.tolist(), goal.tolist(), table.tolist()
    for i in range(run.steps):
        wish = goals[i] * (1.0 + ripple * cos(tau * at + phase) + jerks[i] * cos(tau * at))
        if bind is not None and i >= run.bind_from:
            part = (mirror * bind[0]) % 1.0
            held = 1.0 - bind[2] * part / bind[1]
            wish *= held if part < bind[1] else 1.0 + 0.5 * bind[2] * bind[1] / (1.0 - bind[1])
        wish = 1.0 if wish > 1.0 else 0.0 if wish < 0.0 else wish
        mirror += tables[i] * dt
        speed = wish * tables[i] + (speed - wish * tables[i]) * keep
        at += speed * dt
        angle[i] = at
        ratios[i] = speed / tables[i] if tables[i] > 0.01 else 0.0
    return angle, np.cumsum(table) * dt, ratios


def _record(
    run: _Run, plant: Plant, sensor: Sensor, scenario: str, seed: int, onset_s: float, level: float
) -> Trace:
    rng = run.rng
    angle, mirror, ratios = _turn(run, plant)
    times = (np.arange(run.steps) + 1.0) * run.dt
    start_s = rng.uniform(0.0, 500.0)
    if scenario == "weak_sensor":
        level = rng.uniform(0.15, 0.65)
    if scenario == "emi":
        sensor = replace(sensor, bursts_per_hour=rng.uniform(60.0, 300.0))
    pulses, places = _pulses(rng, sensor, angle, times, scenario, onset_s, level)
    status = _status(rng, run, plant, ratios, times)
    header = {
        "targets_per_turn": sensor.targets,
        "clock_tick_s": sensor.tick_s,
        "mirror_radius_m": round(plant.mirror_radius_m, 4),
        "lap_radius_m": round(plant.lap_radius_m, 4),
        "post_offset_m": round(plant.post_offset_m, 4),
    }
    status[:, 0] += start_s
    twelfths = np.arange(0, int(angle[-1] * 12) + 1) / 12.0
    lap_s = np.interp(twelfths, angle, times) + start_s
    return finish(
        Trace(
            header, np.round((pulses + start_s) / sensor.tick_s) * sensor.tick_s, status, onset_s + start_s,
            scenario, seed, level, lap_s, 0.0, plant,
        ),
        Truth(times + start_s, angle, mirror, ratios, run.set_rpm, places),
    )  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """Times, lap and mirror angle (turns), spin ratio, speed asked for, places of the targets."""

    times: Array
    angle: Array
    mirror: Array
    ratios: Array
    set_rpm: Array
    places: Array


def finish(trace: Trace, truth: Truth) -> Trace:
    """Put the facts by which a watcher is scored into a trace."""
    times, ratios, onset_s = truth.times, truth.ratios, trace.onset_s
    before = ratios[(times > onset_s - 20.0) & (times <= onset_s)]
    ratio = float(before.mean()) if before.size else 0.0
    trace.jump = trace.plant.jump(ratio or 0.7)
    mirror_at = np.interp(np.arange(trace.lap_s.size) / 12.0, truth.angle, truth.mirror)
    trace.facts["severity"] = trace.true_severity(mirror_at, onset_s, onset_s + 30.0)
    trace.facts["ratio"] = ratio
    trace.facts["start_s"] = float(trace.status[0, 0])
    rpm = float(np.interp(onset_s, times, truth.set_rpm))
    lap_at = float(np.interp(onset_s, times, truth.angle)) % 1.0
    ahead = float(np.min((truth.places - lap_at) % 1.0))
    turns_per_s = max(1e-6, ratio * rpm / 60.0)
    trace.facts["rpm"] = rpm
    trace.facts["due_s"] = onset_s + ahead / turns_per_s
    rest = float(truth.angle[-1])
    never = rest + float(np.min((truth.places - rest) % 1.0))
    lap_then = float(np.interp(onset_s, times, truth.angle))
    trace.facts["never_s"] = onset_s + (never - lap_then) / turns_per_s
    trace.facts["gap_s"] = 1.0 / (turns_per_s * truth.places.size)
    trace.facts["turn_s"] = 1.0 / turns_per_s
    loss = 1.0 - ratios / max(ratio, 1e-9)
    dt = float(times[1] - times[0])
    width = max(1, int(1.0 / dt))
    smooth = np.convolve(loss, np.ones(width) / width, mode="same")
    each = slice(None, None, max(1, int(0.05 / dt)))
    trace.loss = np.column_stack([times[each], smooth[each]])
    gone = np.nonzero((times >= onset_s) & (smooth >= 0.18))[0]
    trace.facts["lost_18_s"] = float(times[gone[0]]) if gone.size else math.inf
    return trace


def _pulses(
    rng: np.random.Generator, sensor: Sensor, angle: Array, times: Array, scenario: str, onset_s: float,
    level: float,
) -> tuple[Array, Array]:  # fmt: skip
    n = sensor.targets
    ideal = np.arange(n) / n
    place = np.sort((ideal + rng.normal(0.0, sensor.placement_deg / 360.0, n) + rng.random()) % 1.0)
    turns = np.arange(int(angle[-1]) + 2)
    crossings = (turns[:, None] + place[None, :]).ravel()
    crossings = crossings[(crossings > angle[0]) & (crossings < angle[-1])]
    if sensor.jitter_deg:
        crossings = np.sort(crossings + rng.normal(0.0, sensor.jitter_deg / 360.0, crossings.size))
    at = np.interp(crossings, angle + np.arange(angle.size) * 1e-12, times)
    lost = np.full(at.size, sensor.lost)
    if scenario == "weak_sensor":
        lost[at >= onset_s] = level
    if scenario == "dead_sensor":
        lost[at >= onset_s] = 1.0
    seen = at[rng.random(at.size) >= lost]
    again = seen[rng.random(seen.size) < sensor.double]
    extra = [again + rng.uniform(0.0003, 0.014, again.size)]
    count = rng.poisson(sensor.bursts_per_hour * times[-1] / 3600.0)
    for start in rng.uniform(0.0, times[-1], count):
        if scenario != "emi" or start >= onset_s:
            extra.append(start + np.sort(rng.uniform(0.0, rng.uniform(0.005, 0.08), rng.integers(3, 12))))
    return np.sort(np.concatenate([seen, *extra])), place


def _status(rng: np.random.Generator, run: _Run, plant: Plant, ratios: Array, times: Array) -> Array:
    every = 0.05
    at = (
        np.arange(every, times[-1], every)
        + rng.uniform(0.0, 0.004, int((times[-1] - every) / every) + 1)[
            : np.arange(every, times[-1], every).size
        ]
    )
    where = np.minimum(np.searchsorted(times, at), run.steps - 1)
    torque = np.interp(ratios, np.linspace(0.0, 1.0, 41), plant.table_torque) * run.friction * run.load_factor
    bearing = rng.uniform(0.02, 0.15) * float(np.median(torque[: max(10, int(60.0 / run.dt))]))
    accel = np.gradient(run.table_rpm, run.dt) * rng.uniform(0.0, 0.01) * float(torque.mean())
    accel = np.convolve(accel, np.ones(20) / 20.0, mode="same")
    scale = rng.uniform(15.0, 60.0) / float(np.median(torque) + bearing)
    load = (torque + bearing + accel) * scale
    slow = 1.0 + _wander(rng, run.steps, run.dt, 0.012, rng.uniform(4.0, 20.0))
    lag = rng.uniform(0.0, 0.2)
    from scipy.signal import lfilter

    keep = math.exp(-run.dt / lag) if lag > 0.01 else 0.0
    load = np.asarray(lfilter([1.0 - keep], [1.0, -keep], load * slow, zi=[keep * load[0]])[0])
    shown = load[where] * (1.0 + rng.normal(0.0, 0.02, at.size)) + rng.normal(0.0, 0.3, at.size)
    table = np.round(np.maximum(0.0, run.table_rpm[where]), 2)
    return np.column_stack([np.round(at, 3), run.set_rpm[where], table, np.round(shown, 1)])
