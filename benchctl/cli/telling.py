"""How a segment without a screen is told: its events, its record, its exit status."""

from __future__ import annotations

import json
import queue
import sys
from typing import TYPE_CHECKING, TextIO

from benchctl.units import METRIC

if TYPE_CHECKING:
    from benchctl.assembly.build import Parts
    from benchctl.models.segment_record import SegmentRecord


NOT_RUN = "No segment was run."


class Teller:
    """Tells events: as JSON on standard output, or as words on standard error. Safe from any thread."""

    def __init__(self, *, as_json: bool, system: str = METRIC, to: TextIO | None = None) -> None:
        self._as_json = as_json
        self._system = system
        self._to = to or sys.stderr
        self._waiting: queue.Queue[dict[str, object]] = queue.Queue()

    def take(self, event: dict[str, object]) -> None:
        """Keep an event for the next `flush`."""
        self._waiting.put(event)

    def flush(self) -> None:
        """Print what has come."""
        while True:
            try:
                event = self._waiting.get_nowait()
            except queue.Empty:
                break
            if self._as_json:
                print(json.dumps(event, allow_nan=False))
            else:
                print(_sentence(event, self._system), file=self._to)
        sys.stdout.flush()

    def say(self, words: str) -> None:
        """Words for the person."""
        print(words, file=self._to)


def _sentence(event: dict[str, object], system: str) -> str:
    from benchctl.session.journal import words_of

    at_s = float(str(event["at_s"]))
    details = {key: value for key, value in event.items() if key not in ("at_s", "event")}
    return f"{int(at_s) // 60:3d}:{int(at_s) % 60:02d}  {words_of(str(event['event']), details, system)}"


def tell_first(parts: Parts, teller: Teller) -> None:
    """Say what an earlier program left unfinished, and the mark that the mirror is to be turned to."""
    if parts.runner.facts.recovered:
        teller.say(parts.runner.facts.recovered)
    marks = parts.runner.readying.marks
    if marks is not None:
        teller.say(f"MARK {parts.runner.facts.mark}: turn the mirror to it. {marks.sentence}")


def _summary(record: SegmentRecord, where: str) -> str:
    """What the segment came to, in a line."""
    origin = "SIMULATED: " if record.simulated else ""
    return (
        f"{origin}{record.outcome}; {record.polishing_s / 60:.1f} min, "
        f"{record.useful_turns:.0f} useful turns, spin ratio {record.spin_ratio_mean}, "
        f"wet-down {record.wet_down.replace('_', ' ')}{where}"
    )


def finish(parts: Parts, teller: Teller, *, as_json: bool, unkept: int) -> int:
    """Print the record and give the exit status."""
    from benchctl.guard.words import words_for

    teller.flush()
    if unkept:
        teller.say(f"{unkept} record(s) could not be written to {parts.keeper.folder}; they are printed only")
    if parts.recording_trouble:
        teller.say(parts.recording_trouble)
    record = parts.runner.books.record
    if record is None:
        board = parts.link.board
        why = parts.runner.at.refusal
        teller.say(NOT_RUN if board else "The board did not answer; check port, cable and power.")
        if why and as_json:
            teller.say(f"{why}.")
        return 2 if board else 4
    if as_json:
        print(json.dumps(record.model_dump(mode="json"), allow_nan=False))
        sys.stdout.flush()
    else:
        teller.say(_summary(record, "" if unkept else f"; kept in {parts.keeper.folder}"))
    if record.stop_reason is not None and not as_json:
        words = words_for(record.stop_reason)
        detail = f" ({record.stop_detail})" if record.stop_detail else ""
        teller.say(f"{words.title}{detail}. {words.do}. {words.look}.")
    if record.stop_reason == "link_lost":
        return 4
    return {"completed": 0, "stopped": 3, "refused": 2}[record.outcome]
