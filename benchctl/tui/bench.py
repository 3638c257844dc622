"""What the screen is handed: a bench to look at and to act on."""

from __future__ import annotations

from typing import Protocol

from benchctl.session.acts import Done
from benchctl.session.snapshot import Snapshot


class Bench(Protocol):
    """A running bench. No call waits for the bench, except `stop_and_close`."""

    @property
    def pace(self) -> float | None:
        """How many times faster than life the simulated bench runs; None on a real one."""

    @property
    def pace_set(self) -> float:
        """The pace that was asked for."""

    def snapshot(self) -> Snapshot: ...
    def do(self, done: Done) -> None: ...
    def answer(self) -> None: ...
    def set_pace(self, pace: float) -> None: ...
    def stop_now(self) -> None: ...
    def stop_and_close(self) -> None: ...
