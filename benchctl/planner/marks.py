"""Which mark of the rim comes next: no mark twice before all are used, and little left to print through.

What turns with the table (support, warp, clamp) prints into the glass; turning the mirror on the table
spreads the print. Left of order m after segments with depths w at angles a is
R_m = |sum w exp(i m a)| / sum w: 1 where the mirror was never turned, 0 where nothing is left. A full pass
of N equally deep segments removes every order that is not a multiple of N (N-position theorem, Evans and
Kestner, Applied Optics 35, 1996; read as abstract).

The draw is random among the best third of the unused marks by |S2|^2 + 0.5 |S3|^2, so that a hidden regular
error cannot lock on. Everything here is pure: the seed is handed in; seed, history and count replay a draw.
"""

from __future__ import annotations

import cmath
import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from benchctl.errors import BadInput

Method = Literal["balanced", "plain", "again", "override"]
BEST_PART = 3
"""The draw is among the best third. Two would be more chance and more print left."""
THREE_FOLD_WEIGHT = 0.5
USED_FROM_SHARE = 1 / 3
"""An aborted segment uses up its mark when at least this share of its planned turns was run (a choice)."""


@dataclass(frozen=True)
class Placed:
    """A segment polished at a mark. `depth` may be in any unit that is the same throughout
    (load x offset x turns will do); `used` is false where a segment cut short gives its mark back."""

    mark: int
    depth: float
    used: bool = True


@dataclass(frozen=True)
class Draw:
    """A mark that was drawn, and all that is needed to draw it again."""

    mark: int
    count: int
    pass_number: int
    unused: tuple[int, ...]
    candidates: tuple[int, ...]
    seed: int
    method: Method
    override_of: int | None = None
    why: str = ""

    @property
    def drawn(self) -> int:
        """The mark that the draw itself gave, whatever the person took."""
        return self.mark if self.override_of is None else self.override_of

    def fields(self) -> dict[str, Any]:
        """What the logbook's `mark_draw` record keeps."""
        return {
            "mark": self.mark,
            "mark_count": self.count,
            "pass_number": self.pass_number,
            "unused": list(self.unused),
            "candidates": list(self.candidates),
            "seed": self.seed,
            "method": self.method,
            "override_of": self.override_of,
            "why": self.why,
        }


@dataclass(frozen=True)
class MarkPass:
    """Where the present pass of marks stands; `number` counts from 1."""

    number: int
    used: tuple[int, ...]
    unused: tuple[int, ...]

    @property
    def ends_in(self) -> int:
        """How many segments the pass still takes."""
        return len(self.unused)


def angle_rad(mark: int, count: int) -> float:
    """Angle of a mark on the rim, in radians from mark 1; `count` marks evenly spaced."""
    return 2 * math.pi * (mark - 1) / count


def print_sum(placed: Sequence[Placed], count: int, order: int) -> complex:
    """S_m, the depth-weighted sum of directions of order m, in the unit of the depths."""
    return sum((one.depth * cmath.exp(1j * order * angle_rad(one.mark, count)) for one in placed), start=0j)


def print_through(placed: Sequence[Placed], count: int, order: int) -> float | None:
    """R_m, the share of the table's print of order m that is left; None before anything was polished."""
    total = math.fsum(one.depth for one in placed)
    return abs(print_sum(placed, count, order)) / total if total > 0 else None


def used_up(turns: float, planned_turns: float) -> bool:
    """Whether a segment of so many turns uses up its mark, by the default rule."""
    return turns >= USED_FROM_SHARE * planned_turns


def current_pass(placed: Sequence[Placed], count: int) -> MarkPass:
    """The pass that the next segment belongs to. A mark used twice by the person's choice counts once."""
    _check_count(count)
    number, used = 1, dict[int, None]()
    for one in placed:
        if one.used:
            used[one.mark] = None
        if len(used) == count:
            number, used = number + 1, {}
    unused = tuple(mark for mark in range(1, count + 1) if mark not in used)
    return MarkPass(number, tuple(used), unused)


def costs(placed: Sequence[Placed], count: int, marks: Sequence[int], depth: float) -> dict[int, float]:
    """|S2|^2 + 0.5 |S3|^2 as it would be after one more segment of `depth`, for each of `marks`."""
    two, three = print_sum(placed, count, 2), print_sum(placed, count, 3)
    turned = {mark: cmath.exp(1j * angle_rad(mark, count)) for mark in marks}
    return {
        mark: abs(two + depth * turn**2) ** 2 + THREE_FOLD_WEIGHT * abs(three + depth * turn**3) ** 2
        for mark, turn in turned.items()
    }


def best_marks(placed: Sequence[Placed], count: int, unused: Sequence[int], depth: float) -> tuple[int, ...]:
    """The best third of the unused marks, at least one; all that tie with the last of them are in as well."""
    by_mark = costs(placed, count, unused, depth)
    limit = sorted(by_mark.values())[max(1, len(unused) // BEST_PART) - 1]
    slack = 1e-9 * (depth + math.fsum(one.depth for one in placed)) ** 2
    return tuple(mark for mark in unused if by_mark[mark] <= limit + slack)


def pick(candidates: Sequence[int], seed: int) -> int:
    """One of `candidates`, each with equal chance. `random.Random.random` keeps its sequence for a seed
    from one Python to the next (its reference says so), which `choice` does not promise."""
    return candidates[int(random.Random(seed).random() * len(candidates))]


def draw(
    placed: Sequence[Placed],
    count: int,
    seed: int,
    *,
    method: Literal["balanced", "plain"] = "balanced",
    depth: float | None = None,
) -> Draw:
    """Draw the next mark of `count`. `depth` is what the segment will remove, by default the mean so far.

    The same arguments give the same mark. A mark that was given back is offered again.
    """
    now = current_pass(placed, count)
    if placed and not placed[-1].used:
        again = placed[-1].mark
        return Draw(again, count, now.number, now.unused, (again,), seed, "again")
    if depth is None:
        depth = math.fsum(one.depth for one in placed) / len(placed) if placed else 1.0
    candidates = now.unused if method == "plain" else best_marks(placed, count, now.unused, depth)
    return Draw(pick(candidates, seed), count, now.number, now.unused, candidates, seed, method)


def override(drawn: Draw, mark: int, why: str) -> Draw:
    """The person takes another mark than the one drawn. BadInput for no such mark or no reason."""
    if not 1 <= mark <= drawn.count:
        raise BadInput(f"mark {mark} is not on the rim; the marks are 1 to {drawn.count}")
    if not why.strip():
        raise BadInput("another mark than the one drawn needs a reason; say why in a few words")
    return replace(drawn, mark=mark, method="override", override_of=drawn.drawn, why=why.strip()[:500])


def draw_of(fields: Mapping[str, Any]) -> Draw | None:
    """The draw that a `mark_draw` record keeps; None where the record lacks what makes a draw."""
    try:
        return Draw(
            int(fields["mark"]),
            int(fields["mark_count"]),
            int(fields["pass_number"]),
            tuple(map(int, fields["unused"])),
            tuple(map(int, fields["candidates"])),
            int(fields["seed"]),
            fields["method"],
            fields.get("override_of"),
            str(fields.get("why") or ""),
        )
    except (KeyError, TypeError, ValueError):
        return None


def replays(kept: Draw) -> bool:
    """Whether the kept seed picks the kept mark from the kept candidates again."""
    return bool(kept.candidates) and pick(kept.candidates, kept.seed) == kept.drawn


def _check_count(count: int) -> None:
    if count < 1:
        raise BadInput(f"{count} marks are too few; the rim needs at least 1")
