"""What the screen is handed: a bench to look at and to act on."""

from __future__ import annotations

from typing import Protocol

from benchctl.session.acts import Done
from benchctl.session.snapshot import Snapshot


class Bench(Protocol):
    """A running bench. No call waits for the bench, except `stop_and_close`."""

    crash: BaseException | None
    """What ended the bench loop, where something did; the table was told to stop first."""

    @property
    def pace(self) -> float | None:
        """How many times faster than life the simulated bench runs; None on a real one."""

    @property
    def pace_set(self) -> float:
        """The pace that was asked for; where a person is waited for, it runs slower."""

    def snapshot(self) -> Snapshot:
        """The latest picture of the bench; immutable, at no cost."""

    def do(self, done: Done) -> None:
        """Post a person's act."""

    def answer(self) -> None:
        """The face is alive."""

    def set_pace(self, pace: float) -> None:
        """Another pace; no effect on a real bench."""

    def stop_now(self) -> None:
        """Ask for STOP; safe from a signal handler."""

    def stop_and_close(self) -> None:
        """STOP first, then end the bench loop. Safe to call twice."""
