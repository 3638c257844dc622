"""The look at the glass as it goes on: what is typed, what was kept, what is still due. Pure in time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui.bench import Bench
from benchctl.tui.entry import LookEntry
from benchctl.tui.look import open_for_look
from benchctl.tui.places import Places
from benchctl.units import INCH


class Looking:
    """Takes the keys of the place where the glass is looked at."""

    def __init__(self, bench: Bench, places: Places, units: str) -> None:
        self._bench = bench
        self._places = places
        self.entry = LookEntry(units == INCH)
        self.said = ""
        self.before: Mapping[str, Any] | None = None
        self.due = places.look_due()

    def begin(self, units: str) -> None:
        """A new look."""
        self.entry, self.said = LookEntry(units == INCH), ""

    def renew(self, units: str) -> None:
        """Before the next segment: what is still due is asked again."""
        self.due = self._places.look_due()
        if self.due and self.entry.over:
            self.begin(units)

    def open(self, shot: Snapshot) -> bool:
        """Whether keys go into the look now."""
        return open_for_look(shot.state, self.due) and not self.entry.over

    def key(self, key: str, letter: str, shot: Snapshot) -> bool:
        """Take a key; False where it means nothing here."""
        taken = self.entry.key(key, letter)
        if taken and self.entry.over:
            self._keep(shot)
        return taken

    def put_off(self, shot: Snapshot) -> bool:
        """Ask for the look before the next segment; False where that is made ready already."""
        if Act.NEXT not in shot.allowed:
            return False
        self._bench.do(Done(Act.NOTE, "the look at the glass was put off"))
        self._bench.do(Done(Act.NEXT))
        return True

    def _keep(self, shot: Snapshot) -> None:
        self.before = self._places.last_look()
        self.said = self._places.save_look(self.entry.look())
        if self.said.startswith("Not kept"):
            self.entry.refused(self.said)
            return
        self.due = ""
        if Act.LOOKED in shot.allowed:
            self._bench.do(Done(Act.LOOKED))
