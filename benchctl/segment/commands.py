"""What the engine asks for. The runner carries it out; nothing here touches a board or a disk."""

from __future__ import annotations

from typing import NamedTuple


class ArmBoard(NamedTuple):
    """Ask the board to arm for a segment."""

    ceiling_rpm: float


class RunBoard(NamedTuple):
    """Ask the armed board to turn the table; by the times it can call and stop even without a host."""

    rpm: float
    call_after_s: float
    end_after_s: float
    wait_s: float


class SetSpeed(NamedTuple):
    """Ask for another speed of the table, absolute."""

    rpm: float


class StopBoard(NamedTuple):
    """Ask for a stop: planned (gentle) or controlled for a fault, with the reason for the record."""

    planned: bool
    reason: str


class OpenRecord(NamedTuple):
    """Put the start of the segment on disk; must have happened before RunBoard is carried out."""


class CloseRecord(NamedTuple):
    """The segment is over: put its end on disk. `rest_seen` is false where no sensor confirmed it."""

    outcome: str
    stop_reason: str | None
    stop_kind: str
    wet_down: str
    rest_seen: bool


class Note(NamedTuple):
    """Something worth a line in the log and on the screen, by name, with details."""

    event: str
    details: tuple[tuple[str, object], ...] = ()


Command = ArmBoard | RunBoard | SetSpeed | StopBoard | OpenRecord | CloseRecord | Note
