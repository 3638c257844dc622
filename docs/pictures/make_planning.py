"""Draw the pictures of docs/planning.md from the program's own functions, on the demo mirror's story.

Run `python -m docs.pictures.make_planning` in the project's folder after a change of the planner.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from benchctl.models.job import demo_job
from benchctl.planner.pits import share_left
from benchctl.planner.plot import Curve, svg_plot
from benchctl.planner.progress import Reckoning, ranges
from benchctl.planner.what_if import Change, what_if
from tests.benchmarks.workshop_jobs import straight_line
from tests.planner.demo_story import history, segments_to_clear

HERE = Path(__file__).parent
LOOKS = (4, 8, 12, 16, 20, 24, 28)
MOVES_MM = tuple(range(-9, 7, 3))


@cache
def reckoning(segments: int) -> Reckoning:
    """The story after so many segments."""
    return Reckoning(demo_job(), history(segments))


def share_by_depth() -> str:
    """Share of the pits left over the part of the damage removed."""
    parts = np.linspace(0.0, 1.0, 101)
    curves = [
        Curve(
            f"length {length} of the depth",
            parts.tolist(),
            (100 * share_left(parts, np.array(length), np.array(1.0))).tolist(),
        )
        for length in (0.15, 0.27, 0.5)
    ]
    return svg_plot("Grey fades long before the pits are gone", "depth removed / all", "% left", curves)


def left_by_segment() -> str:
    """Zone 1 of the story: segments left, reckoned, true, and by the straight line through grey."""
    at = [float(number) for number in LOOKS]
    found = [ranges(reckoning(number).segments_left())[0] for number in LOOKS]
    clear = segments_to_clear()[0]
    line = [float(straight_line(history(number))[0]) for number in LOOKS]
    return svg_plot(
        "Zone 1 of the demo's story",
        "segments done",
        "segments left",
        [
            Curve("10 %", at, [one.low for one in found]),
            Curve("likely", at, [one.likely for one in found]),
            Curve("90 %", at, [one.high for one in found]),
            Curve("true", at, [max(0.0, clear - number) for number in LOOKS]),
            Curve("straight line through grey", at, line),
        ],
    )


def last_by_post() -> str:
    """When the last zone is clear over a move of the post, after 20 segments of the story."""
    moves = [float(move) for move in MOVES_MM]
    found = [what_if(reckoning(20), Change(move / 1000)) for move in MOVES_MM]
    return svg_plot(
        "Segments until the last zone is clear, after segment 20",
        "post moved, mm (outward above 0)",
        "segments",
        [
            Curve("10 %", moves, [one.last.low for one in found]),
            Curve("likely", moves, [one.last.likely for one in found]),
            Curve("90 %", moves, [one.last.high for one in found]),
        ],
    )


PICTURES = {
    "share-by-depth.svg": share_by_depth,
    "left-by-segment.svg": left_by_segment,
    "last-by-post.svg": last_by_post,
}

if __name__ == "__main__":
    for name, draw in PICTURES.items():
        (HERE / name).write_text(draw(), encoding="utf-8")
