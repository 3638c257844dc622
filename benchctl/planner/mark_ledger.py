"""The marks of one mirror as its logbook tells them: what is used, what is left to print, what comes next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from benchctl.errors import BadInput
from benchctl.planner.mark_depth import number, work_removed
from benchctl.planner.marks import (
    Draw,
    MarkPass,
    Placed,
    current_pass,
    draw,
    draw_of,
    override,
    print_through,
    used_up,
)


@dataclass
class MarkLedger:
    """The marks of a job. `count` is the number of marks on the rim, `depth_of` what a segment removed."""

    count: int
    depth_of: Callable[[Mapping[str, Any]], float] = work_removed
    placed: list[Placed] = field(default_factory=list)
    waiting: int | None = None
    """A mark that was drawn and not yet polished at: it is offered again, not drawn anew."""
    drawn: Draw | None = None
    """The draw it came from, where it was drawn."""
    draws: list[Draw] = field(default_factory=list)

    @property
    def overrides(self) -> list[Draw]:
        """Draws that the person did not follow."""
        return [one for one in self.draws if one.override_of is not None]

    @property
    def now(self) -> MarkPass:
        """The pass that the next segment belongs to."""
        return current_pass(self.placed, self.count)

    def take(self, kind: str, fields: Mapping[str, Any]) -> None:
        """Take one record in the order of the logbook; kinds that say nothing of marks are passed over."""
        if not _is_mark(fields.get("mark"), self.count):
            return
        if kind == "mark_draw":
            self.waiting, self.drawn = fields["mark"], draw_of(fields)
            if self.drawn is not None:
                self.draws.append(self.drawn)
        elif kind in ("segment_end", "segment_interrupted"):
            self._place(fields)

    def _place(self, fields: Mapping[str, Any]) -> None:
        turns = number(fields, "table_turns") or 0.0
        if turns <= 0:
            return
        planned = (number(fields, "planned_s") or 0.0) / 60 * (number(fields, "work_rpm") or 0.0)
        choice = fields.get("mark_used")
        used = choice if isinstance(choice, bool) else used_up(turns, planned)
        self.placed.append(Placed(fields["mark"], self.depth_of(fields), used))
        self.waiting = self.drawn = None

    def next_draw(self, seed: int, method: Literal["balanced", "plain"] = "balanced") -> Draw:
        """Draw the next mark, or offer again the one that the last segment gave back."""
        drawn = draw(self.placed, self.count, seed, method=method)
        self.take("mark_draw", drawn.fields())
        return drawn

    def choose(self, mark: int, why: str) -> Draw:
        """Take another mark than the one that waits. BadInput for no reason, no such mark, or none drawn.

        A mark that this pass has used already may be taken all the same; the pass is then longer by one.
        """
        if self.drawn is None:
            raise BadInput("no mark was drawn yet; draw one first, then take another and say why")
        taken = override(self.drawn, mark, why)
        self.take("mark_draw", taken.fields())
        return taken

    def settle(self, used: bool) -> None:
        """The person's word on whether the last segment has used up its mark. BadInput without a segment.

        A mark drawn since then is dropped: the last segment's is offered again, or a new one drawn.
        """
        if not self.placed:
            raise BadInput("no segment was polished at a mark yet; there is no mark to give back or use up")
        last = self.placed.pop()
        self.placed.append(Placed(last.mark, last.depth, used))
        self.waiting = self.drawn = None

    def view(self) -> MarkView:
        """Where the marks stand, for people."""
        left = {order: print_through(self.placed, self.count, order) for order in (2, 3)}
        now = self.now
        return MarkView(
            mark=self.waiting,
            count=self.count,
            method=None if self.drawn is None else self.drawn.method,
            candidates=() if self.drawn is None else self.drawn.candidates,
            pass_number=now.number,
            unused=now.unused,
            two_fold=left[2],
            three_fold=left[3],
            last=self.placed[-1] if self.placed else None,
        )


@dataclass(frozen=True)
class MarkView:
    """Where the marks stand. Print-through as shares, 1 for a mirror never turned; None before any work."""

    mark: int | None
    count: int
    method: str | None
    candidates: tuple[int, ...]
    pass_number: int
    unused: tuple[int, ...]
    two_fold: float | None
    three_fold: float | None
    last: Placed | None = None

    @property
    def ends_in(self) -> int:
        """How many segments the pass still takes."""
        return len(self.unused)

    @property
    def left(self) -> str:
        """What is left to print through, in a sentence."""
        if self.two_fold is None or self.three_fold is None:
            return "Print-through: nothing polished yet."
        return (
            f"Print-through left: two-fold {self.two_fold:.0%}, three-fold {self.three_fold:.0%} "
            "(one place = 100 %)."
        )

    @property
    def ahead(self) -> str:
        """The pass and its end, in a sentence."""
        ends = "with this segment" if self.ends_in == 1 else f"in {self.ends_in} segments"
        return f"Pass {self.pass_number} of {self.count} marks ends {ends}."

    @property
    def choice(self) -> str:
        """How the waiting mark was come by, in a sentence; empty where none waits."""
        if self.mark is None:
            return ""
        if len(self.candidates) == 1 and self.method in ("balanced", "plain"):
            return f"Mark {self.mark}: the only choice."
        ways = {
            "balanced": f"Mark {self.mark}: one of {len(self.candidates)} good choices.",
            "plain": f"Mark {self.mark}: drawn from all {len(self.candidates)} unused.",
            "again": f"Mark {self.mark} again: the last segment did not use it up.",
            "override": f"Mark {self.mark}: your choice.",
        }
        return ways.get(self.method or "", f"Mark {self.mark}: the one to begin with.")

    @property
    def sentence(self) -> str:
        """All of it in one line."""
        return " ".join(part for part in (self.choice, self.left, self.ahead) if part)


def _is_mark(value: Any, count: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= count
