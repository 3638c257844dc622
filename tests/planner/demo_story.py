"""The demo mirror's story: the post goes out 3 mm at segment 10 because the edge looks grey; zone 1 is last.

The depth of each zone follows the mechanics with the job's own coefficient; pits end at 6.2 um, the length of
the exponential is 0.27 of that, 400 pits a field at first. The dry post bearing of segment 6 is in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np

from benchctl.logbook.writer import LogbookWriter
from benchctl.models.job import Job, demo_job
from benchctl.planner.depth import zone_depths_m
from benchctl.planner.history import History

END_M, LENGTH, PITS = 6.2e-6, 0.27, 400.0
MOVED_AT, MOVED_BY_M = 10, 0.003
AT = datetime(2026, 3, 1, 9, 0, tzinfo=timezone(timedelta(hours=1)))


def share_left(depth_m: float) -> float:
    """Share of the pits deeper than a depth: the exponential with its cut-off, written out once more."""
    end = math.exp(-1 / LENGTH)
    return max(0.0, (math.exp(-depth_m / END_M / LENGTH) - end) / (1 - end))


def segments_to_clear(move_back_after: int | None = None) -> list[float]:
    """By zone, after how many segments 6.2 um are gone; the post may go back in after some segment."""
    job, depths, found = demo_job(), np.zeros(6), [0.0] * 6
    for number in range(1, 60):
        back = move_back_after is not None and number > move_back_after
        taken = np.array(_depths(job, number, back))
        for ring in range(6):
            if depths[ring] < END_M <= depths[ring] + taken[ring]:
                found[ring] = number - 1 + (END_M - depths[ring]) / taken[ring]
        depths = depths + taken
    return found


def _offset(number: int, back: bool = False) -> float:
    return 0.128 + (MOVED_BY_M if number >= MOVED_AT and not back else 0.0)


def _spin(number: int) -> float:
    return 0.74 if number == 6 else 0.92


def _depths(job: Job, number: int, back: bool = False) -> tuple[float, ...]:
    return zone_depths_m(
        job,
        load_n=job.load_n,
        post_offset_m=_offset(number, back),
        spin_ratio=_spin(number),
        useful_turns=409.0,
    )


def records(segments: int, look_every: int = 2) -> Iterator[tuple[str, dict[str, Any]]]:
    """What the logbook would hold after so many segments, looks among them."""
    job, depths = demo_job(), np.zeros(6)
    luck = np.random.default_rng(460)
    for number in range(1, segments + 1):
        if number == MOVED_AT:
            yield "decision", moved_out()
        depths = depths + np.array(_depths(job, number))
        yield "segment_end", _segment(job, number)
        if number % look_every == 0:
            yield "inspection", _look(job, depths, luck)


def moved_out() -> dict[str, Any]:
    """The person's own decision to move the post out, with what it was foretold to do."""
    return {
        "mirror": demo_job().mirror.name,
        "decision": "post 3 mm out",
        "changes": {"post_offset_m": 0.131},
        "why": "the edge looks grey",
        "act": "post",
        "taken": "own",
        "predicted": {"zones": [-0.09, -0.04, 0.01, 0.04, 0.07], "edge": 0.08},
    }


def _segment(job: Job, number: int) -> dict[str, Any]:
    return {
        "segment": f"demo-{number}",
        "mirror": job.mirror.name,
        "lap": job.lap.name,
        "outcome": "completed",
        "stop_kind": "planned",
        "polishing_s": 960.0,
        "planned_s": 960.0,
        "load_n": round(job.load_n, 1),
        "post_offset_m": _offset(number),
        "work_rpm": 26.0,
        "table_turns": 412.0,
        "lap_turns": round(412 * _spin(number), 1),
        "useful_turns": 409.0,
        "spin_ratio_mean": _spin(number),
        "load_mean_percent": 41.0,
        "wet_down": "answered",
        "mark": 1 + (number * 5) % 13,
    }


def _look(job: Job, depths: np.ndarray, luck: np.random.Generator) -> dict[str, Any]:
    rings = [_ring(float(depth), luck) for depth in depths]
    return {"mirror": job.mirror.name, "zones": rings[:5], "edge": rings[5]}


def _ring(depth_m: float, luck: np.random.Generator) -> dict[str, Any]:
    share = share_left(depth_m)
    counts = [int(luck.negative_binomial(8, 8 / (8 + max(PITS * share, 1e-9)))) for _ in range(3)]
    return {
        "grey": float(round(10 * share)),
        "pits": None if share > 0.4 else ["too many" if one > 50 else one for one in counts],
        "laser_spot": None if share > 0.2 else sum(PITS * share > limit for limit in (0.2, 3.0, 30.0)),
    }


def history(segments: int) -> History:
    """The planner's history after so many segments."""
    found = History(demo_job().mirror.name)
    for kind, fields in records(segments):
        found.take(kind, fields)
    return found


FACTS = {
    "glass": "borosilicate 3.3",
    "compound": "cerium oxide",
    "mirror_radius_m": 0.23,
    "mirror_hole_radius_m": 0.031,
    "lap_radius_m": 0.155,
    "last_abrasive_m": 5e-6,
}


def write_logbook(folder: Path, segments: int, mirror: str = "Bench demo 460") -> None:
    """The same as a logbook on disk; each segment says what a segment's start says of mirror and lap."""
    writer = LogbookWriter(folder, program="benchctl 0.1.0", sync=lambda descriptor: None)
    for number, (kind, fields) in enumerate(records(segments)):
        seconds = 1500.0 * (number + 1)
        fields = fields | {"mirror": mirror} | (FACTS if kind == "segment_end" else {})
        writer.append(kind, fields, at=AT + timedelta(seconds=seconds), mono_s=seconds)  # type: ignore[arg-type]
    writer.close()
