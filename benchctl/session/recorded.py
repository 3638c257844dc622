"""A runner that tells a recording what each of its steps took, so that the steps can be taken again.

A step depends on the wire, on the time, on whether the face answered, on the person's acts, and on the disk:
a table turns only once its segment's start is on it. The wire is recorded by the transport. The rest is a
`Step`, told when the step is over; the disk is looked at once a step, so that no answer changes within one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from benchctl.logbook.keeper import KeeperState, RecordKeeper, Ticket
from benchctl.logbook.lines import Kind
from benchctl.session.acts import Act, Done
from benchctl.session.runner import Runner


class Step(NamedTuple):
    """What a step of the runner takes besides the wire. `mark` is the mark in hand when it was over;
    `starts_kept` counts the segments whose start was on disk."""

    now_s: float
    face_ok: bool = True
    acts: tuple[Done, ...] = ()
    mark: int | None = None
    disk_ok: bool = True
    starts_kept: int = 0

    def told(self, before: Step) -> dict[str, object]:
        """The time, the acts, and whatever differs from the step before."""
        news: dict[str, object] = {"now_s": self.now_s}
        if self.acts:
            news["acts"] = [[done.act.value, done.text] for done in self.acts]
        for name in ("face_ok", "mark", "disk_ok", "starts_kept"):
            if getattr(self, name) != getattr(before, name):
                news[name] = getattr(self, name)
        return news

    def following(self, told: Mapping[str, Any]) -> Step:
        """The step after this one, from what was told of it. ValueError, TypeError or KeyError if damaged."""
        now_s = float(told["now_s"])
        if not math.isfinite(now_s) or now_s < self.now_s:
            raise ValueError("time runs backwards")
        acts = tuple(Done(Act(name), str(text)) for name, text in told.get("acts", ()))
        mark = told.get("mark", self.mark)
        return Step(
            now_s,
            bool(told.get("face_ok", self.face_ok)),
            acts,
            None if mark is None else int(mark),
            bool(told.get("disk_ok", self.disk_ok)),
            int(told.get("starts_kept", self.starts_kept)),
        )


class SampledKeeper:
    """Hands all on to a keeper, and shows the disk as it was at the last `look`."""

    def __init__(self, keeper: RecordKeeper) -> None:
        self._keeper = keeper
        self._starts: list[tuple[Ticket, Ticket]] = []
        self.state = keeper.state

    def look(self) -> int:
        """See how the disk is now; how many segments' starts are on it."""
        self.state = self._keeper.state
        for real, shown in self._starts:
            if real.kept:
                shown.mark_kept()
        return sum(shown.kept for _, shown in self._starts)

    def keep(self, kind: Kind, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> Ticket:
        ticket = self._keeper.keep(kind, fields, at=at, mono_s=mono_s)
        if kind != "segment_start":
            return ticket
        shown = Ticket(ticket.record_id)
        self._starts.append((ticket, shown))
        return shown

    def progress(self, segment_id: str, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> None:
        self._keeper.progress(segment_id, fields, at=at, mono_s=mono_s)

    def trace(self, segment_id: str, batch: bytes, mono_s: float) -> None:
        self._keeper.trace(segment_id, batch, mono_s)

    def poll(self, mono_s: float) -> None:
        self._keeper.poll(mono_s)


class RememberedKeeper:
    """Keeps nothing; shows the disk as a recording has it."""

    def __init__(self) -> None:
        self._starts: list[Ticket] = []
        self.state = KeeperState(0, None, 0)

    def show(self, step: Step) -> None:
        """The disk as it was in this step."""
        self.state = KeeperState(0, None if step.disk_ok else "the disk took no records", 0)
        for ticket in self._starts[: step.starts_kept]:
            ticket.mark_kept()

    def keep(self, kind: Kind, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> Ticket:
        ticket = Ticket("")
        if kind == "segment_start":
            self._starts.append(ticket)
        return ticket

    def progress(self, segment_id: str, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> None:
        pass

    def trace(self, segment_id: str, batch: bytes, mono_s: float) -> None:
        pass

    def poll(self, mono_s: float) -> None:
        pass


class RecordedRunner(Runner):
    """A runner that tells each of its steps. `witness` is to be given before the first."""

    def witness(self, disk: SampledKeeper, tell: Callable[[dict[str, object]], None]) -> None:
        """Tell each step to `tell` from now on; `disk` is what the journal keeps its records with."""
        self._disk, self._tell = disk, tell
        self._before = Step(0.0, mark=self.facts.mark)

    def step(self, now_s: float, face_ok: bool = True) -> None:
        """As a runner's step."""
        acts, starts_kept = tuple(self._acts), self._disk.look()
        disk_ok = self._disk.state.trouble is None
        super().step(now_s, face_ok)
        step = Step(now_s, face_ok, acts, self.facts.mark, disk_ok, starts_kept)
        self._tell(step.told(self._before))
        self._before = step
