"""A recorded segment run again: the real runner and link, fed with the wire and the acts of the recording.

What the program now sends to the board is compared, write for write, with what the recorded one sent. The
replay ends at the first difference: from there on the board's recorded answers belong to something else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from benchctl.assembly.begun_with import BegunWith, begun_with
from benchctl.assembly.build import Listener, make_runner
from benchctl.clock import SteppedClock
from benchctl.errors import BadInput
from benchctl.link.board import BoardLink
from benchctl.link.recorded_steps import RecordedSteps
from benchctl.link.recording import Chunk
from benchctl.models.segment_record import SegmentRecord
from benchctl.session.acts import Act
from benchctl.session.bookkeeping import Bookkeeper
from benchctl.session.recorded import RememberedJournal, RememberedKeeper, Step
from benchctl.session.runner import Runner

NO_STEPS = (
    "the recording holds no segment: only what 'benchctl run --record FILE' recorded can be run again; "
    "'benchctl decode FILE' lists the frames of any"
)


class Replay:
    """`run` it once. `listen` is told each event, as it was when the segment was recorded."""

    def __init__(self, chunks: list[Chunk], listen: Listener | None = None) -> None:
        begun, self._rest = _begun(chunks)
        self.steps = 0
        self.records: list[SegmentRecord] = []
        """The record of each segment that ended, in order."""
        self._wire = RecordedSteps()
        self._disk = RememberedKeeper()
        self._clock = SteppedClock()
        link = BoardLink(self._wire, begun.owner)
        journal = RememberedJournal(self._disk, self._clock, listen)
        self.runner = make_runner(begun.facts, link, journal, None, begun.memory, Runner)
        self._last = Step(0.0, mark=begun.facts.mark)

    @property
    def difference(self) -> str:
        """What this program did otherwise than the recorded one, in words; empty where all was the same."""
        return self._wire.difference

    @property
    def written(self) -> int:
        """How many writes to the board were as recorded."""
        return self._wire.written

    def run(self) -> None:
        """All recorded steps, or those up to the first difference."""
        for step, chunks in self._recorded():
            self._step(step, chunks)
            if self.difference:
                break
        self._keep_record(self.runner.books)

    def _recorded(self) -> Iterator[tuple[Step, list[Chunk]]]:
        lines: list[Chunk] = []
        for chunk in self._rest:
            if chunk.way != "step":
                lines.append(chunk)
                continue
            try:
                step = self._last.following(chunk.told or {})
            except (ValueError, TypeError, KeyError, OverflowError) as error:
                raise BadInput(
                    f"the step at {chunk.at_s:.3f} s cannot be read ({error}); the recording is damaged there"
                ) from error
            yield step, lines
            lines = []

    def _step(self, step: Step, chunks: list[Chunk]) -> None:
        runner, books = self.runner, self.runner.books
        self._disk.show(step)
        self._clock.now_s = step.now_s
        self._wire.begin(step.now_s, chunks)
        self._set_mark(step)
        for done in step.acts:
            if done.act is not Act.MARK:
                runner.do(done)
        runner.step(step.now_s, step.face_ok)
        self._wire.end()
        if runner.books is not books:
            self._keep_record(books)
        self._last = step
        self.steps += 1

    def _set_mark(self, step: Step) -> None:
        """The mark is the recorded one: what drew or chose it is not in the recording."""
        if step.mark != self._last.mark:
            self.runner.facts = replace(self.runner.facts, mark=step.mark)
            if any(done.act is Act.MARK for done in step.acts):
                self.runner.books.facts = self.runner.facts

    def _keep_record(self, books: Bookkeeper) -> None:
        if books.record is not None:
            self.records.append(books.record)


def _begun(chunks: list[Chunk]) -> tuple[BegunWith, list[Chunk]]:
    """What the session was begun with, and the lines after that."""
    for number, chunk in enumerate(chunks):
        if chunk.way == "session":
            return begun_with(chunk.told or {}, "the recording's session line"), chunks[number + 1 :]
    raise BadInput(NO_STEPS)
