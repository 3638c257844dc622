"""How long before a drying lap grabs the person is called for water. Run by hand, about 2 s a drift:

    python -m tests.benchmarks.drying_drifts [DRIFTS] [FIRST_SEED] [CLEAN]

A drift is drawn from its seed: from some moment of the polishing on no water arrives, friction climbs and the
lap jerks more and more, and at its end the lap grabs. Nobody answers any call. How drags climb on real laps
nobody has published; the spans below are judgement:

    time from the first drying to the grab   2 to 12 min, even on a logarithmic scale
    friction at the grab                     1.6 to 2.2 times the wet one
    course                                   (time / whole time) to a power of 0.7 to 2: early or late
    jerking at the grab                      0 to 0.5 of the torque that stalls the lap

Beside them CLEAN segments of 20 min with an attentive person, in which each such call is a false one.
Prints the lead times and which alarm came first; exit status 1 where fewer than 95 in 100 drifts are told
60 s before the grab, or a clean segment is stopped.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random
from typing import NamedTuple

from benchctl.assembly.build import build_simulated
from benchctl.assembly.stepped import Stepper
from benchctl.models.job import demo_job
from benchctl.segment.states import State
from benchctl.simulator.operator import Operator
from tests.session.driven import Driven

CALLS = ("lap_drying", "lap_slowing", "lap_jerky", "load_high")
"""Alarms that call for water."""
PROMISED_S = 60.0
SHARE = 0.95


class Drift(NamedTuple):
    """How one lap dries: seconds of polishing before it begins and of drying until it grabs."""

    seed: int
    begins_s: float
    lasts_s: float
    friction: float
    power: float
    binding: float


def draw(seed: int) -> Drift:
    """The drift of a seed."""
    random = Random(f"{seed} drying")
    return Drift(
        seed,
        random.uniform(20.0, 120.0),
        120.0 * 6.0 ** random.random(),
        random.uniform(1.6, 2.2),
        random.uniform(0.7, 2.0),
        random.uniform(0.0, 0.5),
    )


def lead_s(drift: Drift, folder: Path) -> tuple[float, str]:
    """Seconds from the first call for water to the grab, and the alarm that called; 0 where none did."""
    bench = Driven(folder, minutes=20.0, seed=drift.seed)
    bench.polish()
    bench.go(drift.begins_s)
    plant = bench.plant.plant
    plant.film.cut_off = True
    begun_s = bench.stepper.now_s
    told = ""
    while not told and (dried_s := bench.stepper.now_s - begun_s) < drift.lasts_s:
        course = (dried_s / drift.lasts_s) ** drift.power
        plant.friction_share = 1.0 + (drift.friction - 1.0) * course
        plant.post.binding = drift.binding * course
        bench.stepper.step()
        told = next((str(one["name"]) for one in bench.told("alarm") if one["name"] in CALLS), "")
        if not told and not bench.runner.engine.turning:
            told = f"stopped: {bench.runner.engine.stop_reason}"
    bench.parts.close()
    return max(0.0, drift.lasts_s - dried_s) if told in CALLS else 0.0, told


def clean(seed: int, folder: Path) -> tuple[list[str], str]:
    """The calls for water that a clean segment gave, and its outcome."""
    events: list[dict[str, object]] = []
    parts = build_simulated(
        demo_job().with_minutes(20.0), folder, seed=seed, stepped=True, listen=events.append
    )
    stepper = Stepper(parts, Operator("attentive", seed))
    while parts.runner.engine.state is not State.STANDING and not stepper.over:
        stepper.step()
    parts.close()
    called = [str(one["name"]) for one in events if one["event"] == "alarm" and one["name"] in CALLS]
    return called, parts.runner.engine.outcome


def main() -> None:
    """Play them and print."""
    numbers = [int(word) for word in sys.argv[1:]]
    count, first, cleans = [*numbers, *(100, 1, 20)[len(numbers) :]]
    leads: list[float] = []
    callers: Counter[str] = Counter()
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as name:
            drift = draw(seed)
            lead, told = lead_s(drift, Path(name))
        leads.append(lead)
        callers[told or "nothing"] += 1
        if lead < PROMISED_S:
            print(f"{lead:5.0f} s  {told or 'nothing'}  {drift}", flush=True)
    leads.sort()
    in_time = sum(lead >= PROMISED_S for lead in leads)
    print(f"{in_time} of {count} drifts told {PROMISED_S:g} s before the grab or sooner; by {dict(callers)}")
    print("lead: " + ", ".join(f"{p} %: {leads[min(count - 1, count * p // 100)]:.0f} s" for p in (1, 5, 50)))
    stopped = 0
    for seed in range(first, first + cleans):
        with tempfile.TemporaryDirectory() as name:
            called, outcome = clean(seed, Path(name))
        stopped += outcome != "completed"
        if called or outcome != "completed":
            print(f"clean {seed}: {outcome}, {called}", flush=True)
    print(f"{stopped} of {cleans} clean segments stopped")
    sys.exit(1 if in_time < SHARE * count or stopped else 0)


if __name__ == "__main__":
    main()
