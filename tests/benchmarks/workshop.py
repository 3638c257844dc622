"""A simulated workshop: whole polishing jobs with a truth behind them, to hold the planner's ranges against.

A job is made from a seed. What it knows of glass and people is meant to differ from what the planner takes
for granted (every figure here is a judgement of ours, not measured on glass):

- damage: a stretched exponential (power 0.85 to 1.2) cut off at a depth that differs from spot to spot of one
  field (3 to 12 %), and a few pits of oversize grains that go deeper. The planner fits one exponential with
  one cut-off of its own form; both follow the published words "one exponential with a cut-off, deeper with a
  few oversize grains" (Suratwala et al. 2006, read as abstract). The depth of damage varies by zone.
- removal: part soft lap (even pressure), part stiff (no tension), the post's scale off by a millimetre or
  two, zone factors on top; a Preston coefficient of the person's own that wanders from segment to segment
  and falls as the lap glazes.
- the person: grey of a card with a taste (power), a bias a look, noise, steps of a half or a whole; pits
  missed, clustered by zone and by field, "too many" from 40 to 50 on, tens of them rounded to five; dust
  taken for pits; the laser's spot judged against thresholds of their own.

A zone is clear at the depth where fewer than one pit in ten fields of the loupe (20 mm) is left.
"""

from __future__ import annotations

import math
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np

from benchctl.models.job import Job, demo_job_text, parse_job
from benchctl.physics.evenness import Turning, survey
from benchctl.physics.solve import steady_state
from benchctl.planner.case_of import case_of, moved

RINGS = 6
CLEAR_PITS = 0.1
_GLASSES = {"borosilicate 3.3": 6e-13, "fused silica": 3.5e-13, "soda-lime plate": 8e-13}
_SPINS = (0.55, 0.75, 0.9, 1.05)
_TRIM_EVERY = 7
_NORMAL_AT = (-2.02, -0.96, 0.0, 0.96, 2.02)
_NORMAL_WEIGHT = (0.02, 0.222, 0.516, 0.222, 0.02)


@dataclass(frozen=True)
class Person:
    """How one person looks at glass."""

    taste: float
    grey_look_sd: float
    grey_zone_sd: float
    grey_step: float
    seen: float
    too_many_from: int
    fields: int
    zone_spread: float
    field_spread: float
    dust: float
    spot_factor: float
    look_every: int


@dataclass(frozen=True)
class Damage:
    """Pits of the ground surface, by ring: all of them in a field, scale and end of their depths (m)."""

    pits: float
    scale: np.ndarray
    end: np.ndarray
    bend: float
    patchy: float
    oversize: float

    def left(self, depth: np.ndarray) -> np.ndarray:
        """Share of the pits that is deeper than `depth`, by ring."""
        share = np.zeros_like(depth)
        for place, weight in zip(_NORMAL_AT, _NORMAL_WEIGHT, strict=True):
            share += weight * self._cut(depth, self.end * (1 + self.patchy * place))
        return (1 - self.oversize) * share + self.oversize * self._cut(depth, 1.12 * self.end)

    def _cut(self, depth: np.ndarray, end: np.ndarray) -> np.ndarray:
        deepest = np.exp(-((end / self.scale) ** self.bend))
        return np.clip(np.exp(-((depth / self.scale) ** self.bend)) - deepest, 0.0, None) / (1 - deepest)

    def clear_m(self) -> np.ndarray:
        """Depth at which fewer than CLEAR_PITS a field are left, by ring; by halving."""
        low, high = np.zeros_like(self.end), 1.5 * self.end
        for _ in range(50):
            middle = (low + high) / 2
            over = self.pits * self.left(middle) > CLEAR_PITS
            low, high = np.where(over, middle, low), np.where(over, high, middle)
        return high


@dataclass
class Bench:
    """The true removal of one job: metres a turn by ring, over offset and spin ratio."""

    offsets: np.ndarray
    table: np.ndarray
    load_n: float
    factors: np.ndarray
    scale_error_m: float

    def per_turn(self, offset_m: float, spin: float, load_n: float) -> np.ndarray:
        """Metres a turn at the post's reading on the person's scale."""
        true = offset_m + self.scale_error_m
        by_spin = np.array([[np.interp(true, self.offsets, ring) for ring in rows.T] for rows in self.table])
        depth = np.array([np.interp(spin, _SPINS, ring) for ring in by_spin.T])
        return depth * self.factors * load_n / self.load_n

    def most_even_m(self) -> float:
        """The reading of the scale at which the five zones end together best."""
        fine = np.linspace(self.offsets[0], self.offsets[-1], 201) - self.scale_error_m
        worst = [self.per_turn(offset, 0.92, self.load_n)[:5] for offset in fine]
        return float(fine[int(np.argmax([zones.min() / zones.mean() for zones in worst]))])


@dataclass
class Work:
    """One job being done. `depth_m` by ring is the truth; `records` what the logbook would hold."""

    job: Job
    seed: int
    person: Person
    damage: Damage
    bench: Bench
    preston_factor: float
    clear_m: np.ndarray
    luck: np.random.Generator
    eyes: np.random.Generator
    offset_m: float
    load_share: float = 1.0
    speed_share: float = 1.0
    dry_post: bool = False
    depth_m: np.ndarray = field(default_factory=lambda: np.zeros(RINGS))
    records: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    done: int = 0
    history_m: list[np.ndarray] = field(default_factory=list)
    _wander: float = 0.0
    _since_trim: int = 0

    def polish(self) -> None:
        """One segment at the present settings."""
        luck, job = self.luck, self.job
        self._wander = 0.8 * self._wander + luck.normal(0.0, 0.05)
        pace = math.exp(self._wander + luck.normal(0.0, 0.05)) * (1 - 0.015 * self._since_trim)
        if luck.random() < 0.03:
            self.dry_post = True
        spin = (luck.uniform(0.68, 0.8) if self.dry_post else 0.92) + luck.normal(0.0, 0.012)
        turns = job.segment.work_rpm * job.segment.length_s / 60 * luck.normal(0.98, 0.005)
        load = job.load_n * self.load_share
        depth = self.bench.per_turn(self.offset_m, spin, load) * turns * self.preston_factor * pace
        self.depth_m = self.depth_m + depth
        self.done += 1
        self.history_m.append(self.depth_m)
        self._keep_segment(spin, turns, load)
        self._since_trim += 1
        if self._since_trim >= _TRIM_EVERY:
            self._since_trim = 0
            self.records.append(("note", {"text": "channels", "lap_care": "trimmed", "lap": job.lap.name}))
        self.dry_post = False

    def _keep_segment(self, spin: float, turns: float, load: float) -> None:
        job = self.job
        self.records.append(
            (
                "segment_end",
                {
                    "segment": f"w{self.seed}-{self.done}",
                    "mirror": job.mirror.name,
                    "lap": job.lap.name,
                    "outcome": "completed",
                    "load_n": round(load, 1),
                    "post_offset_m": round(self.offset_m, 4),
                    "work_rpm": job.segment.work_rpm * self.speed_share,
                    "useful_turns": round(turns, 1),
                    "table_turns": round(turns + 4, 1),
                    "planned_s": job.segment.length_s,
                    "spin_ratio_mean": round(spin, 3),
                    "load_mean_percent": round(40 * load / job.load_n * self.luck.normal(1.0, 0.03), 1),
                    "mark": None,
                },
            )
        )

    def look(self) -> dict[str, Any]:
        """One look at the glass; kept among the records and given back."""
        left = self.damage.left(self.depth_m)
        grey = self._grey(left)
        pits = self._pits(left) if max(grey) <= 4 else [None] * RINGS
        spots = self._spots(left) if max(grey) <= 2 else [None] * RINGS
        rings = [{"grey": g, "pits": p, "laser_spot": s} for g, p, s in zip(grey, pits, spots, strict=True)]
        seen = {"mirror": self.job.mirror.name, "zones": rings[:5], "edge": rings[5]}
        self.records.append(("inspection", seen))
        return seen

    def look_due(self) -> bool:
        """Whether this person looks now: every second or third segment, each one once hardly grey is left."""
        late = self.damage.left(self.depth_m)[:5].max() < 0.08
        return self.done % (max(1, self.person.look_every - 1) if late else self.person.look_every) == 0

    def _grey(self, left: np.ndarray) -> list[float]:
        person, eyes = self.person, self.eyes
        true = 10 * left**person.taste
        noise = eyes.normal(0.0, person.grey_look_sd) + eyes.normal(0.0, person.grey_zone_sd, RINGS)
        steps = np.round((true + noise * (0.3 + 0.7 * np.sqrt(true / 10))) / person.grey_step)
        return [float(score) for score in np.clip(steps * person.grey_step, 0.0, 10.0)]

    def _pits(self, left: np.ndarray) -> list[list[int | str]]:
        person, eyes, found = self.person, self.eyes, []
        for share in left:
            zone = self.damage.pits * share * person.seen * _gamma(eyes, person.zone_spread)
            counts = [
                int(eyes.poisson(zone * _gamma(eyes, person.field_spread) + person.dust))
                for _ in range(person.fields)
            ]
            found.append([_as_said(count, person.too_many_from) for count in counts])
        return found

    def _spots(self, left: np.ndarray) -> list[int]:
        level = self.damage.pits * left * self.person.spot_factor * np.exp(self.eyes.normal(0.0, 0.4, RINGS))
        return [int(sum(one > limit for limit in (0.15, 3.0, 30.0))) for one in level]

    @property
    def clear(self) -> np.ndarray:
        """By ring, whether it is."""
        return self.depth_m >= self.clear_m

    def finish(self) -> np.ndarray:
        """By ring, after how many segments it became clear, with the share of the last."""
        past = np.vstack([np.zeros(RINGS), *self.history_m])
        counts = np.arange(len(past), dtype=float)
        return np.array([np.interp(self.clear_m[i], past[:, i], counts) for i in range(RINGS)])


def _gamma(luck: np.random.Generator, spread: float) -> float:
    """A factor of mean 1 and relative standard deviation `spread`."""
    return float(luck.gamma(1 / spread**2, spread**2))


def _as_said(count: int, too_many_from: int) -> int | str:
    if count >= too_many_from or count > 50:
        return "too many"
    return 5 * round(count / 5) if count > 20 else count


def start(seed: int, *, wrong_post: bool = False) -> Work:
    """A job from its seed, nothing done yet. With `wrong_post` the post stands 3 to 6 % of the mirror's
    radius off the place that is best on this bench; else within half a per cent of it."""
    return deepcopy(_made(seed, wrong_post))


@lru_cache(maxsize=4)
def _made(seed: int, wrong_post: bool) -> Work:
    luck = np.random.default_rng([seed, 1])
    job = _job(luck)
    bench = _bench(job, luck)
    radius, best = job.mirror.radius_m, bench.most_even_m()
    off = luck.uniform(0.03, 0.06) * luck.choice((-1, 1)) if wrong_post else luck.normal(0.0, 0.004)
    offset = round(best + off * radius, 3)
    damage, factor, job = _glass(job, bench, offset, luck)
    return Work(
        job=job,
        seed=seed,
        person=_person(luck),
        damage=damage,
        bench=bench,
        preston_factor=factor,
        clear_m=damage.clear_m(),
        luck=np.random.default_rng([seed, 2]),
        eyes=np.random.default_rng([seed, 3]),
        offset_m=offset,
    )


def _job(luck: np.random.Generator) -> Job:
    """A mirror, a lap and a load as people have them; the post at the middle of what is usual."""
    diameter = round(luck.uniform(0.25, 0.62), 3)
    lap = round(diameter * luck.uniform(0.64, 0.74), 3)
    hole = round(diameter * luck.choice([0.0, 0.135]), 3)
    glass = str(luck.choice(list(_GLASSES)))
    kg = 2500 * math.pi * lap**2 / 4 / 9.80665 * luck.uniform(0.8, 1.2)
    lines = {
        "name": '"workshop"',
        "diameter": f'"{diameter} m"',
        "glass": f'"{glass}"',
        "hole_diameter": f'"{hole} m"',
        "last_abrasive": f'"{luck.choice([5, 5, 9])} um"',
        "weights": f'["{0.7 * kg:.2f} kg"]',
        "post_offset": f'"{_usual_offset(lap / diameter) * diameter / 2:.4f} m"',
        "post_drag": f'"{0.37 * kg / 19.3 * diameter / 0.46:.3f} N m"',
        "drive_point_height": f'"{0.1 * diameter:.3f} m"',
    }
    text, section = [], ""
    for line in demo_job_text().splitlines():
        section = line.strip("[]") if line.startswith("[") else section
        key = line.partition(" =")[0]
        if section == "lap" and key in ("name", "diameter", "mass"):
            values = {"name": '"workshop lap"', "diameter": f'"{lap} m"', "mass": f'"{0.3 * kg:.2f} kg"'}
            text.append(f"{key} = {values[key]}")
        elif key == "preston":
            continue
        else:
            text.append(f"{key} = {lines[key]}" if key in lines and section != "table" else line)
    return parse_job("\n".join(text).encode(), "a job of the workshop")


def _usual_offset(lap_over_mirror: float) -> float:
    """Neutral offset over the mirror's radius, by the table of docs/physics.md's stiff lap (derived)."""
    laps, places = (0.60, 0.65, 0.70, 0.75, 0.80), (0.585, 0.567, 0.547, 0.526, 0.504)
    return float(np.interp(lap_over_mirror, laps, places))


def _bench(job: Job, luck: np.random.Generator) -> Bench:
    """True removal: a share of a soft lap in a stiff one, and zone factors; at a Preston factor of 1."""
    case = case_of(job)
    radius = job.mirror.radius_m
    offsets = job.setup.post_offset_m + radius * np.linspace(-0.13, 0.13, 14)
    softness = luck.uniform(0.0, 0.35)
    table = np.zeros((len(_SPINS), len(offsets), RINGS))
    for place, offset in enumerate(offsets):
        for law, share in (("no_tension", 1 - softness), ("uniform", softness)):
            there = replace(moved(case, float(offset)), pressure_law=law, pivot_height_m=0.0)
            pressure = steady_state(there).pressure
            for row, spin in enumerate(_SPINS):
                lap = spin * case.table_rad_s
                turning = Turning(there.contact, pressure, case.table_rad_s, lap, case.preston_per_pa)
                found = survey(turning, np.array([radius - 0.0025]))
                rates = np.array([*found.zone_rates_m_per_s, *found.rates_m_per_s])
                table[row, place] += share * rates * 2 * math.pi / case.table_rad_s
    slope = luck.normal(0.0, 0.03) * np.linspace(-1, 1, RINGS)
    factors = np.exp(slope + luck.normal(0.0, 0.03, RINGS) + np.array([0, 0, 0, 0, 0, luck.normal(0, 0.1)]))
    return Bench(offsets, table, job.load_n, factors, float(luck.normal(0.0, 0.001)))


def _glass(job: Job, bench: Bench, offset: float, luck: np.random.Generator) -> tuple[Damage, float, Job]:
    """Damage, Preston factor and a segment length that make a job of 14 to 45 segments."""
    turns = job.segment.work_rpm * job.segment.length_s / 60
    depth = bench.per_turn(offset, 0.92, job.load_n)[:5].mean() * turns
    wanted = 1.2 * job.mirror.last_abrasive_m / luck.uniform(18, 32)
    length = min(3600.0, max(300.0, round(job.segment.length_s * wanted / depth / 60) * 60.0))
    job = job.with_minutes(length / 60)
    depth *= length / 960.0
    while True:
        factor = math.exp(luck.uniform(math.log(0.55), math.log(1.8)))
        end = 1.2 * job.mirror.last_abrasive_m * math.exp(luck.uniform(-0.62, 0.62))
        if 14 < end / (depth * factor) < 45:
            break
    zones = end * np.exp(luck.normal(0.0, 0.04, RINGS))
    scale = zones * luck.uniform(0.16, 0.42)
    pits = 300 * math.exp(luck.normal(0.0, 0.6))
    oversize = luck.choice([0.0, luck.uniform(0.0, 0.004)])
    damage = Damage(pits, scale, zones, luck.uniform(0.85, 1.2), luck.uniform(0.03, 0.12), float(oversize))
    return damage, factor, job


def _person(luck: np.random.Generator) -> Person:
    return Person(
        taste=luck.uniform(0.85, 1.25),
        grey_look_sd=luck.uniform(0.1, 0.4),
        grey_zone_sd=luck.uniform(0.2, 0.6),
        grey_step=float(luck.choice([0.5, 1.0])),
        seen=luck.uniform(0.85, 1.0),
        too_many_from=int(luck.choice([40, 50, 51])),
        fields=int(luck.choice([2, 3, 3])),
        zone_spread=luck.uniform(0.1, 0.35),
        field_spread=luck.uniform(0.1, 0.35),
        dust=luck.uniform(0.0, 0.04),
        spot_factor=math.exp(luck.normal(0.0, 0.4)),
        look_every=int(luck.choice([2, 3])),
    )


def run_out(work: Work, most: int = 120) -> Work:
    """Polish on, looking when due, until all five zones are clear."""
    while not work.clear[:5].all() and work.done < most:
        work.polish()
        if work.look_due():
            work.look()
    return work
