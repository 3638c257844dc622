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
    return "\n".join(
        [
            f"{len(told)} seeds, {sum(len(one.faults) for one in told)} faults, {len(stops)} stops to rest",
            f"{sum(1 for one in told if one.breaches)} seeds with a broken rule",
            f"{sum(one.processor_s for one in told) / len(told):.3f} s of processor a seed",
            ", ".join(f"{name} {count}" for name, count in counted.most_common()),
        ]
    )
