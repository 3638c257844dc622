"""What a person does with lap and mirror while the table rests: the cold press, and the mark.

Neither is possible while anything turns, and nothing is armed while a press is under way. Refusals come back
as one sentence.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from benchctl.errors import BadInput
from benchctl.press.case import press_case
from benchctl.press.states import State as Press
from benchctl.press.view import PressView
from benchctl.segment.states import State
from benchctl.session.preparation import SETTLED, Preparation, mark_and_reason
from benchctl.session.pressing import Pressing
from benchctl.session.snapshot import Call

if TYPE_CHECKING:
    from benchctl.models.press_record import PressRecord
    from benchctl.planner.mark_ledger import MarkView
    from benchctl.session.bench_state import Bench

RESTING = (State.READY, State.LOOK, State.CLOSED)
"""States of the segment in which the lap is off the glass, or not yet asked to turn."""
TURNING_RPM = 0.05
UNDER_WAY = "a cold press is under way and nothing may turn; take the lap off first, or end the press"


class Readying:
    """Press and mark of one bench."""

    def __init__(self, bench: Bench, preparation: Preparation | None) -> None:
        self._bench = bench
        self.preparation = preparation
        self._pressing: Pressing | None = None

    # The press

    @property
    def pressing(self) -> bool:
        """Whether a cold press is under way."""
        return self._pressing is not None and self._pressing.active

    @property
    def waited_for(self) -> bool:
        """Whether the press waits for a person."""
        press = self._pressing
        return press is not None and press.engine.state in (Press.SHIFT, Press.OFF)

    @property
    def pressed(self) -> PressRecord | None:
        """The record of the last press that ended here."""
        return None if self._pressing is None else self._pressing.record

    def step(self, now_s: float) -> None:
        """Let a press follow time."""
        if self._pressing is not None:
            self._pressing.step(now_s)

    def slept(self, by_s: float) -> None:
        """The computer slept; the pitch flowed on."""
        if self._pressing is not None:
            self._pressing.slept(by_s)

    def view(self, now_s: float) -> PressView | None:
        """The press as it stands; None while none is under way."""
        return self._pressing.view(now_s) if self._pressing is not None and self.pressing else None

    def call(self, now_s: float) -> Call | None:
        """What the press calls for."""
        return self._pressing.call(now_s) if self._pressing is not None and self.pressing else None

    def silence(self, now_s: float) -> None:
        """Quiet what the press calls now."""
        if self._pressing is not None:
            self._pressing.silence(now_s)

    def press(self, text: str, now_s: float) -> str:
        """'start', 'answer', or a word for the press under way; a sentence where it was refused."""
        if self._pressing is not None and self.pressing:
            if text == "answer":
                self._pressing.answer(now_s)
                return ""
            try:
                self._pressing.say(text, now_s)
            except BadInput as refusal:
                return str(refusal)
            return ""
        return self._start(now_s) if text == "start" else "no press is under way; start one first"

    def _start(self, now_s: float) -> str:
        bench = self._bench
        status, job = bench.link.last_status, bench.facts.job
        if bench.engine.state not in RESTING or (status is not None and abs(status.table_rpm) > TURNING_RPM):
            return "a press begins while the table rests; stop first, and lift the lap"
        try:
            case = press_case(job)
        except BadInput as refusal:
            return str(refusal)
        room_c = job.room.temperature_c
        self._pressing = Pressing(
            bench.journal, job, case, now_s, simulated=bench.facts.simulated, room_c=room_c
        )
        return ""

    # The mark

    @property
    def marks(self) -> MarkView | None:
        """Where the marks stand; None where none are kept."""
        return None if self.preparation is None else self.preparation.view()

    def draw(self) -> None:
        """The mark to set the mirror to: the one drawn, put into the logbook when it is drawn."""
        if self.preparation is None:
            return
        mark, drawn = self.preparation.next_mark()
        self._bench.facts = replace(self._bench.facts, mark=mark)
        if drawn is not None:
            self._bench.journal.keep("mark_draw", drawn)

    def mark(self, text: str) -> str:
        """'9 chip at the drawn mark' takes another mark, 'used' and 'again' settle the last segment's."""
        if self.preparation is None:
            return "no marks are drawn on this bench"
        if self._bench.engine.state not in RESTING:
            return "the mark is chosen while the table rests and is not armed"
        try:
            if text.strip() in SETTLED:
                self._settle(self.preparation, text.strip())
            else:
                mark, why = mark_and_reason(text)
                self._bench.journal.keep("mark_draw", self.preparation.choose(mark, why))
        except BadInput as refusal:
            return str(refusal)
        if self._bench.engine.state is State.READY:
            self.draw()
            self._bench.books.facts = self._bench.facts
        return ""

    def _settle(self, preparation: Preparation, word: str) -> None:
        self._bench.journal.keep("correction", preparation.settle(SETTLED[word]))

    def ended(self, record_id: str) -> None:
        """A segment has ended and its record is on its way to disk under this id."""
        record = self._bench.books.record
        if self.preparation is not None and record is not None:
            self.preparation.take("segment_end", record.model_dump(), record_id)
