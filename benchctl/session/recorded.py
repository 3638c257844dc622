"""A runner that tells a recording what each of its steps took, so that the steps can be taken again.

A step depends on the wire, on the time, on whether the face answered, on the person's acts, on the clocks
(one may be set, the computer may sleep), and on the disk: a table turns only once its segment's start is on
it. The wire is recorded by the transport. The rest is a `Step`, told when the step is over; the disk is
looked at once a step, so that no answer changes within one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from benchctl.clock import Clock
from benchctl.guard.timekeeping import Clocks
from benchctl.logbook.keeper import KeeperState, RecordKeeper, Ticket
from benchctl.logbook.lines import Kind
from benchctl.session.acts import Act, Done
from benchctl.session.journal import Journal
from benchctl.session.runner import Runner

Listen = Callable[[dict[str, object]], None]
STEADY_S = 0.05
"""Clocks that moved against each other by less than this are shown as they stood."""


class Step(NamedTuple):
    """What a step of the runner takes besides the wire. `mark` is the mark in hand when it was over;
    `starts_kept` counts the segments whose start was on disk; `room` says why the disk had none for more."""

    now_s: float
    face_ok: bool = True
    acts: tuple[Done, ...] = ()
    mark: int | None = None
    disk_ok: bool = True
    starts_kept: int = 0
    room: str | None = None
    clocks: Clocks = Clocks(0.0, 0.0, 0.0)

    def told(self, before: Step) -> dict[str, object]:
        """The time, the acts, and whatever differs from the step before."""
        news: dict[str, object] = {"now_s": self.now_s}
        if self.acts:
            news["acts"] = [[done.act.value, done.text] for done in self.acts]
        for name in (*Step._fields[3:], "face_ok"):
            if getattr(self, name) != getattr(before, name):
                news[name] = getattr(self, name)
        return news

    def following(self, told: Mapping[str, Any]) -> Step:
        """The step after this one, from what was told of it. ValueError, TypeError or KeyError if damaged."""
        now_s = float(told["now_s"])
        if not math.isfinite(now_s) or now_s < self.now_s:
            raise ValueError("time runs backwards")
        acts = tuple(Done(Act(name), str(text)) for name, text in told.get("acts", ()))
        mark, room = told.get("mark", self.mark), told.get("room", self.room)
        return Step(
            now_s,
            bool(told.get("face_ok", self.face_ok)),
            acts,
            None if mark is None else int(mark),
            bool(told.get("disk_ok", self.disk_ok)),
            int(told.get("starts_kept", self.starts_kept)),
            None if room is None else str(room),
            Clocks(*(float(seconds) for seconds in told.get("clocks", self.clocks))),
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

    def try_again(self, mono_s: float) -> None:
        self._keeper.try_again(mono_s)


class SampledJournal(Journal):
    """A journal that remembers what it last answered about the disk's room and the clocks."""

    def __init__(
        self, keeper: SampledKeeper, clock: Clock, listen: Listen | None, room: Callable[[], str | None]
    ) -> None:
        super().__init__(keeper, clock, listen, self._ask)
        self._real_room = room
        self.disk = keeper
        self.answered: str | None = None
        self.looked = super().clocks()

    def _ask(self) -> str | None:
        self.answered = self._real_room()
        return self.answered

    def clocks(self) -> Clocks:
        """The clocks at the last moment at which they had moved against each other."""
        clocks, looked = super().clocks(), self.looked
        slept = (clocks.boot_s - clocks.mono_s) - (looked.boot_s - looked.mono_s)
        ahead = (clocks.wall_s - clocks.boot_s) - (looked.wall_s - looked.boot_s)
        if max(abs(slept), abs(ahead)) > STEADY_S:
            self.looked = clocks
        return self.looked


class RememberedKeeper:
    """Keeps nothing; shows the disk as a recording has it."""

    def __init__(self) -> None:
        self._starts: list[Ticket] = []
        self.state = KeeperState(0, None, 0)
        self.step = Step(0.0)

    def show(self, step: Step) -> None:
        """The disk as it was in this step."""
        self.step = step
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

    def try_again(self, mono_s: float) -> None:
        pass


class RememberedJournal(Journal):
    """A journal whose disk, room and clocks are those of the step in hand."""

    def __init__(self, keeper: RememberedKeeper, clock: Clock, listen: Listen | None) -> None:
        super().__init__(keeper, clock, listen, lambda: keeper.step.room)
        self._keeper = keeper

    def clocks(self) -> Clocks:
        return self._keeper.step.clocks


class RecordedRunner(Runner):
    """A runner that tells each of its steps. `witness` is to be given before the first."""

    def witness(self, journal: SampledJournal, tell: Callable[[dict[str, object]], None]) -> None:
        """Tell each step to `tell` from now on; `journal` is the runner's own."""
        self._sampled, self._tell = journal, tell
        self._before = Step(0.0, mark=self.facts.mark)

    def step(self, now_s: float, face_ok: bool = True) -> None:
        """As a runner's step."""
        acts, journal = tuple(self._acts), self._sampled
        starts_kept, disk_ok = journal.disk.look(), journal.disk.state.trouble is None
        super().step(now_s, face_ok)
        room, clocks = journal.answered, journal.looked
        step = Step(now_s, face_ok, acts, self.facts.mark, disk_ok, starts_kept, room, clocks)
        self._tell(step.told(self._before))
        self._before = step
