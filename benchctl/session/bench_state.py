"""The bench as the session's parts see it: satisfied by benchctl.session.runner.Runner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from benchctl.lapwatch import LapWatch, Verdict
from benchctl.segment.approach import Approach
from benchctl.segment.engine import SegmentEngine
from benchctl.segment.states import On
from benchctl.session.acts import Done
from benchctl.session.board_port import BoardPort
from benchctl.session.journal import Journal
from benchctl.session.tally import Tally

if TYPE_CHECKING:
    from benchctl.session.alarms import Alarms
    from benchctl.session.bookkeeping import Bookkeeper, SegmentFacts
    from benchctl.session.listening import Listening
    from benchctl.session.readying import Readying


@dataclass
class Moment:
    """What the faces need beside the parts themselves."""

    now_s: float = 0.0
    speed_changed_s: float = 0.0
    watching_since_s: float | None = None
    face_ok: bool = True
    """Whether the face answers; while it does not, the run permit is not renewed."""
    offered_rpm: float | None = None
    """A slower speed that is offered for a lap that jerks."""
    stop_detail: str = ""
    """What was measured when the table was stopped, or what happened; empty before."""
    not_armed: str = ""
    """Why this program itself refused to arm, in one sentence; empty once it did not."""
    refusal: str = ""
    """Why the last act was refused, in one sentence."""


class Bench(Protocol):
    """One bench: its parts to read, and what a part may ask of it."""

    link: BoardPort
    facts: SegmentFacts
    targets: tuple[int, int]
    engine: SegmentEngine
    approach: Approach
    tally: Tally
    watch: LapWatch
    verdict: Verdict
    books: Bookkeeper
    journal: Journal
    alarms: Alarms
    readying: Readying
    listening: Listening
    at: Moment

    def event(self, event: On, now_s: float, **details: object) -> None:
        """Follow an event if the state allows it now; a late answer or a stray key changes nothing."""

    def note(self, now_s: float, event: str, **details: object) -> None:
        """One line for the log."""

    def do(self, done: Done) -> None:
        """Take a person's act for the next step."""

    def next_segment(self, now_s: float) -> None:
        """Make the next segment ready."""
