"""What one seed draws: a bench, a job within its limits, a person, and one to five faults that overlap."""

from __future__ import annotations

from functools import lru_cache
from random import Random
from typing import NamedTuple

from benchctl.models.job import Job, demo_job
from benchctl.session.acts import Act
from benchctl.simulator.friction import FaceFriction
from benchctl.simulator.mishaps import MISHAPS
from firmware_protocol.settings import DEFAULTS, Settings

OWN_FAULTS = (
    "host-dies",
    "face-hangs",
    "cable-silent",
    "frames-lost",
    "frames-late",
    "frames-doubled",
)
"""Faults beside the simulator's mishaps: the program killed, its face hung, and four more ways of a cable."""

FAULTS = (*(mishap.name for mishap in MISHAPS), *OWN_FAULTS)

LASTING = ("host-hang", "suspend", "face-hangs", "cable-silent", "frames-late", "cable-out", "host-dies")
"""Faults that pass by themselves, after a time that is drawn; some of the others do too."""

TURNS_AT_S = 3.0
"""About when the table is told to turn: armed at 1.5 s, run 1.2 s later."""


class Fault(NamedTuple):
    """A fault, when it begins, and how long it lasts (None: until the repair at the story's end)."""

    name: str
    at_s: float
    lasts_s: float | None


class Case(NamedTuple):
    """All that a story is played from. Times are seconds of the bench since its power came on."""

    seed: int
    bench: int
    job: Job
    settings: Settings
    operator: str
    faults: tuple[Fault, ...]
    strays: tuple[tuple[float, Act | None], ...]
    """Acts of the person that nothing asked for; None is a short press of the pedal."""
    host_step_s: float
    starts_again: bool
    """Whether the bench is started again after the repair, to see that it can be."""


# Mirror, lap, post offset, hole (mm), weights (kg)
_BENCHES = (
    (460, 310, 128, 62, (2.5, 2.5, 2.5, 2.5, 2.0, 2.0)),
    (410, 280, 110, 0, (5.0, 5.0)),
    (300, 210, 80, 0, (3.0, 3.0)),
    (610, 420, 180, 0, (5.0, 5.0, 5.0, 5.0)),
    (760, 520, 225, 120, (10.0, 10.0, 10.0)),
)


def draw(seed: int) -> Case:
    """The case of a seed; the same seed gives the same case."""
    random = Random(f"{seed} campaign")
    bench = random.randrange(len(_BENCHES))
    board_rpm = random.choice((45.0, 45.0, 60.0))
    job = _job(random, bench, board_rpm)
    settings = DEFAULTS._replace(
        ceiling_mrpm=round(board_rpm * 1000.0),
        ramp_up_mrad_s2=random.choice((500, 800, 1500)),
        planned_stop_mrad_s2=random.choice((1000, 1000, 1500)),
    )
    return Case(
        seed=seed,
        bench=bench,
        job=job,
        settings=settings,
        operator=random.choice(("attentive", "attentive", "attentive", "slow", "absent")),
        faults=_faults(random, job),
        strays=_strays(random, job),
        host_step_s=random.choice((0.15,) * 8 + (0.1, 0.05)),
        starts_again=random.random() < 0.2,
    )


@lru_cache(maxsize=len(_BENCHES))
def face_of(bench: int) -> FaceFriction:
    """The friction of a bench's face, tabulated once."""
    return FaceFriction.of(_on_bench(bench, {}, {}))


def _on_bench(bench: int, setup: dict[str, object], segment: dict[str, object]) -> Job:
    mirror, lap, offset, hole, weights = _BENCHES[bench]
    data = demo_job().model_dump(by_alias=True)
    data["mirror"] |= {"diameter": mirror / 1000.0, "hole_diameter": hole / 1000.0}
    data["lap"] |= {"diameter": lap / 1000.0}
    data["setup"] |= {"post_offset": offset / 1000.0, "weights": weights} | setup
    data["segment"] |= segment
    return Job.model_validate(data, context={"si": True})


def _job(random: Random, bench: int, board_rpm: float) -> Job:
    """A short segment on one of the benches, with numbers anywhere within their limits."""
    creep = random.uniform(12.0, 15.0)
    ceiling = random.uniform(max(creep + 1.0, 20.0), 60.0)
    work = random.uniform(creep, min(ceiling, board_rpm))
    segment = {
        "creep_speed": creep,
        "step_speed": random.choice((None, random.uniform(creep, work))),
        "work_speed": work,
        "ceiling": ceiling,
        "length": random.uniform(30.0, 38.0),
        "wet_call": random.uniform(10.0, 20.0),
        "wait_unanswered": random.choice((0.0, 5.0, 15.0)),
        "wait_speed": random.uniform(2.0, 8.0),
        "rewet_every": random.choice((20.0, 240.0)),
        "ask_before_ramp": random.random() < 0.2,
    }
    setup = {
        "friction": random.uniform(0.2, 0.6),
        "post_drag": random.uniform(0.0, 0.6),
        "cleats": random.random() < 0.5,
    }
    return _on_bench(bench, setup, segment)


def _instant(random: Random, job: Job, others: list[Fault]) -> float:
    """A moment for a fault: anywhere, or where things change, or close after another fault."""
    segment = job.segment
    ends_s = TURNS_AT_S + segment.length_s
    moments = [
        random.uniform(0.0, TURNS_AT_S + 1.0),
        random.uniform(TURNS_AT_S, TURNS_AT_S + 12.0),
        random.uniform(TURNS_AT_S, ends_s + 5.0),
        random.uniform(TURNS_AT_S, ends_s),
        ends_s - segment.wet_call_s + random.uniform(-1.0, 1.0),
        ends_s + random.uniform(-1.0, 3.0),
    ]
    if others:
        moments += [random.choice(others).at_s + random.uniform(0.0, 2.0)] * 3
    return round(random.choice(moments), 3)


def _faults(random: Random, job: Job) -> tuple[Fault, ...]:
    faults: list[Fault] = []
    for name in random.sample(FAULTS, random.choice((1, 1, 2, 2, 3, 4, 5))):
        passes = name in LASTING or random.random() < 0.3
        lasts_s = round(random.choice((0.3, 0.5, 0.7, 2.0, 6.0)) * random.uniform(0.8, 1.2), 3)
        faults.append(Fault(name, _instant(random, job, faults), lasts_s if passes else None))
    return tuple(sorted(faults, key=lambda fault: fault.at_s))


def _strays(random: Random, job: Job) -> tuple[tuple[float, Act | None], ...]:
    if random.random() < 0.6:
        return ()
    ends_s = TURNS_AT_S + job.segment.length_s + 10.0
    acts = [act for act in Act if act is not Act.NOTE]
    drawn = [
        (round(random.uniform(0.0, ends_s), 3), random.choice([*acts, None]))
        for _ in range(random.randint(1, 4))
    ]
    return tuple(sorted(drawn, key=lambda stray: stray[0]))
