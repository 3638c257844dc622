"""What fits into the time of one sitting: presses, segments, looks, and the marks for them.

A press before the first segment; after each segment the lap is lifted, the glass wiped, the mirror set to the
next mark and charged; a look where one is due. The pass of marks is ended where it can be, and no segment is
planned beyond what is surely left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchctl.errors import BadInput
from benchctl.planner.marks import Placed, current_pass, draw
from benchctl.planner.progress import Range, Reckoning
from benchctl.planner.what_if import last_of, range_of

BETWEEN_S = 420.0
"""Lift, wipe, set to the next mark, charge, feel: between two segments (common practice, no source)."""
LOOK_S = 600.0
"""A look at all zones with lamp, loupe and spot (common practice, no source)."""
LAST_LOOKS_FROM = 4.0
"""Once the last zone may be this near, each segment is looked at."""
LONGEST_H = 24.0


@dataclass(frozen=True)
class Step:
    """One thing of the sitting: press, segment, change, look. Seconds from its start."""

    at_s: float
    length_s: float
    act: str
    words: str
    mark: int | None = None


@dataclass(frozen=True)
class Sitting:
    """What fits. `ends_pass` whether the pass of marks ends with it; `why` in sentences."""

    steps: list[Step]
    segments: int
    marks: list[int]
    ends_pass: bool
    spare_s: float
    why: list[str]


def plan_sitting(
    reckoning: Reckoning, time_s: float, placed: Sequence[Placed], seed: int, look_every: int = 2
) -> Sitting:
    """The sitting for the time given. `placed` are the marks used so far, `seed` that of the draw.

    The first mark is the one that the draw gives with this seed; the others are what it would give if all
    goes as planned. BadInput where not one segment fits.
    """
    job = reckoning.job
    fixed = job.press.length_s
    if not 0.0 < time_s <= LONGEST_H * 3600:
        raise BadInput(f"a sitting of {time_s / 3600:g} h is out of range; give up to {LONGEST_H:g} h")
    each = job.segment.length_s + BETWEEN_S
    last = range_of(last_of(reckoning.segments_left()))
    every = 1 if last.low <= LAST_LOOKS_FROM else look_every
    most = _fitting(time_s - fixed, each, every)
    if most < 1:
        need = (fixed + each + LOOK_S) / 60
        raise BadInput(
            f"not one segment fits into {time_s / 60:g} min; press, segment and look take {need:.0f} min"
        )
    count, why, ends = _how_many(most, last, placed, job.marks.count)
    marks = _marks(placed, job.marks.count, count, seed)
    steps = _steps(reckoning, count, every, marks)
    spare = time_s - (steps[-1].at_s + steps[-1].length_s)
    return Sitting(steps, count, marks, ends, spare, why)


def _fitting(room_s: float, each_s: float, every: int) -> int:
    """Most segments that fit, with a look after every so many and after the last."""
    count = 0
    while (count + 1) * each_s + math.ceil((count + 1) / every) * LOOK_S <= room_s:
        count += 1
    return count


def _how_many(most: int, last: Range, placed: Sequence[Placed], marks: int) -> tuple[int, list[str], bool]:
    """Segments to plan, the reasons, and whether the pass ends with the last of them."""
    ends_in = current_pass(placed, marks).ends_in
    useful = max(1, math.ceil(last.high))
    count = min(most, useful)
    why = ["1 segment fits into the time." if most == 1 else f"{most} segments fit into the time."]
    if useful < most:
        why.append(
            f"The last zone is clear in {last.low:.1f} to {last.high:.1f} segments; no more is planned."
        )
    if ends_in <= most and count < ends_in <= count + 2:
        count = ends_in
        why.append(f"{ends_in} end the pass of {marks} marks, which leaves least of the table's print.")
    elif ends_in < count <= ends_in + 2 and last.low > ends_in:
        count = ends_in
        why.append(f"The pass of {marks} marks ends after {ends_in}: better to stop there than just after.")
    return count, why, count == ends_in


def _marks(placed: Sequence[Placed], count: int, wanted: int, seed: int) -> list[int]:
    so_far, found = list(placed), list[int]()
    depth = sum(one.depth for one in so_far) / len(so_far) if so_far else 1.0
    for step in range(wanted):
        drawn = draw(so_far, count, seed + step, depth=depth)
        found.append(drawn.mark)
        so_far.append(Placed(drawn.mark, depth))
    return found


def _steps(reckoning: Reckoning, count: int, every: int, marks: Sequence[int]) -> list[Step]:
    job = reckoning.job
    steps = [Step(0.0, job.press.length_s, "press", f"press at {job.press.load_kg:g} kg")]

    def then(length_s: float, act: str, words: str, mark: int | None = None) -> None:
        before = steps[-1]
        steps.append(Step(before.at_s + before.length_s, length_s, act, words, mark))

    for number in range(1, count + 1):
        mark = marks[number - 1]
        then(BETWEEN_S, "set", f"wipe, mirror to mark {mark}, charge, feel")
        then(
            job.segment.length_s, "segment", f"segment {reckoning.history.done + number} at mark {mark}", mark
        )
        if number % every == 0 or number == count:
            then(LOOK_S, "look", "look: grey, pits, laser spot, edge to centre")
    return steps
