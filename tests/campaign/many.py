"""Plays many seeds, several processes at once, and gathers what was broken and what was measured."""

from __future__ import annotations

import os
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

from tests.campaign.draws import draw
from tests.campaign.resting import Stop
from tests.campaign.story import Story
from tests.campaign.witness import Breach

CHUNK = 25
PERMIT_S = 0.6


class Told(NamedTuple):
    """What a seed came to. `silent_rest_s` are the times to rest from the death of the host or its link."""

    seed: int
    breaches: list[Breach]
    stops: list[Stop]
    overspeeds_s: list[tuple[float, float]]
    faults: tuple[str, ...]
    processor_s: float


def tell(seed: int) -> Told:
    """Play one seed in a folder of its own."""
    began = time.process_time()
    case = draw(seed)
    with tempfile.TemporaryDirectory() as name:
        story = Story(case, Path(name) / "log")
        try:
            breaches = story.play()
        except Exception as error:  # noqa: BLE001  a defect of ours is a finding like any other
            breaches = [Breach(story.now_s, "exception", f"{type(error).__name__}: {error}")]
    names = tuple(fault.name for fault in case.faults)
    witness = story.witness
    spent_s = time.process_time() - began
    return Told(seed, breaches, witness.stops, witness.overspeeds_s, names, spent_s)


def _tell_chunk(seeds: range) -> list[Told]:
    return [tell(seed) for seed in seeds]


def play_seeds(seeds: range, workers: int | None = None) -> Iterator[Told]:
    """Play `seeds`, in order; one process for each core unless told otherwise."""
    chunks = [seeds[start : start + CHUNK] for start in range(0, len(seeds), CHUNK)]
    workers = workers or len(os.sched_getaffinity(0))
    if workers == 1:
        for chunk in chunks:
            yield from _tell_chunk(chunk)
        return
    with ProcessPoolExecutor(workers) as pool:
        for told in pool.map(_tell_chunk, chunks):
            yield from told


def summary(told: list[Told]) -> str:
    """Figures of a campaign in a few lines."""
    stops = [stop for one in told for stop in one.stops]
    counted = Counter(stop.reason for stop in stops)
    silent = [stop for stop in stops if stop.reason == "permit_expired" and stop.obeyed and stop.lap_on]
    lines = [
        f"{len(told)} seeds, {sum(len(one.faults) for one in told)} faults, {len(stops)} stops to rest, "
        f"{sum(1 for one in told if one.breaches)} seeds with a broken rule, "
        f"{sum(one.processor_s for one in told) / len(told):.3f} s of processor a seed",
        ", ".join(f"{name} {count}" for name, count in counted.most_common()),
        f"run permit expired: {_slowest(silent, 35.0)}; {_slowest(silent, 60.0)}",
        f"runaway, power off after: {_times(told, 20.0, 1e9)} from 20 rpm, {_times(told, 0.0, 20.0)} below",
    ]
    return "\n".join(lines)


def _slowest(stops: list[Stop], most_rpm: float) -> str:
    """The longest time from the last renewal's expiry to rest, from at most `most_rpm`."""
    some = [stop for stop in stops if stop.rpm <= most_rpm]
    if not some:
        return f"none from up to {most_rpm:g} rpm"
    worst = max(some, key=lambda stop: stop.rest_s)
    return f"{len(some)} from up to {most_rpm:g} rpm, at rest within {PERMIT_S + worst.rest_s:.2f} s"


def _times(told: list[Told], least_rpm: float, below_rpm: float) -> str:
    """How many overspeeds from speeds in a range, with a sound table sensor, and the longest."""
    blind = ("table-sensor-dead", "table-sensor-noisy", "board-hang")
    times = [
        over_s
        for one in told
        if not any(name in one.faults for name in blind)
        for rpm, over_s in one.overspeeds_s
        if least_rpm <= rpm < below_rpm
    ]
    return f"{max(times):.2f} s at most ({len(times)})" if times else "none"
