"""The questions before arming, asked one at a time, each answered by one key. Pure.

Nothing is refused: a question may stay open, and what stayed open is kept with the answers. The chain of
questions is common practice in the trade, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from benchctl.models.weights import Piece, weights_words
from benchctl.session.snapshot import Snapshot
from benchctl.tui.lines import offset_words
from benchctl.units import METRIC

FEELS = {"e": "even", "p": "patchy", "s": "skating", "g": "grabbing"}
OPEN = "not answered"


class Question(NamedTuple):
    """One question: its name in the log, its block letters, its sentence, the answers by key."""

    name: str
    sign: str
    asks: str
    answers: dict[str, str]
    keeps: bool = False
    """An answer that holds for the whole session, not only for one segment."""


_YES = {"y": "yes"}

INTERRUPTED = Question(
    "interrupted", "WET THE EDGE NOW", "Lap wetted, slid off the glass, glass looked at", _YES
)
"""Asked first where a segment was cut off before this start: the lap may still stand on the glass."""


def questions(shot: Snapshot, pieces: Sequence[Piece] = (), system: str = METRIC) -> list[Question]:
    """The questions for the set-up of this snapshot, in the order of the work."""
    held = "captured" if shot.weights_captured else "LOOSE"
    on_lap = weights_words(pieces, system)
    found = [
        Question("mark", f"MARK {shot.mark}?", f"Mirror set to mark {shot.mark}, seated, centred", _YES),
        Question("pressed", "PRESSED?", "Lap pressed cold, shifted and turned at half time", _YES),
        Question("brushed", "BRUSHED?", "Facets brushed or meshed, no glaze left", _YES),
        Question("rinsed", "RINSED?", "Lap and glass rinsed, no bristle, no crumb", _YES),
        Question("charged", "CHARGED?", "Compound on the glass, spread with the lap by hand", _YES),
        Question("feel", "FEEL? E P S G", "Feel: E even, P patchy, S skating, G grabbing", FEELS),
        Question("weights", "WEIGHTS ON?", f"Weights: {on_lap}, {held}", _YES),
        Question(
            "post", "POST SET?", f"Post at {offset_words(shot.post_offset_m, system)}, lap free on it", _YES
        ),
        Question("cleats", "CLEATS TIGHT?", "Cleats hold the mirror, weights cannot walk", _YES),
        Question("estop", "E-STOP TRIED?", "Emergency stop pressed and released this session", _YES, True),
    ]
    found = found if shot.mark is not None else found[1:]
    return [INTERRUPTED, *found] if shot.recovered else found


class Checklist:
    """Answers so far, and which question is asked."""

    def __init__(self) -> None:
        self.answers: dict[str, str] = {}
        self.at = 0

    def asked(self, asked: list[Question]) -> Question | None:
        """The question that stands large: the chosen one while it is open, else the first open one."""
        if self.at < len(asked) and asked[self.at].name not in self.answers:
            return asked[self.at]
        return next((one for one in asked if one.name not in self.answers), None)

    def left(self, asked: list[Question]) -> int:
        """How many questions are open."""
        return sum(one.name not in self.answers for one in asked)

    def key(self, key: str, asked: list[Question]) -> bool:
        """Take a key; False where it answers nothing here."""
        if key in ("up", "down"):
            self.at = max(0, min(len(asked) - 1, self.at + (1 if key == "down" else -1)))
            self.answers.pop(asked[self.at].name, None)
            return True
        question = self.asked(asked)
        if question is None or key not in question.answers:
            return False
        self.answers[question.name] = question.answers[key]
        self.at = asked.index(question) + 1
        return True

    def ask_again(self, name: str) -> None:
        """An answer that does not hold any more; the first open question comes next."""
        self.answers.pop(name, None)
        self.at = 0

    def kept(self, asked: list[Question]) -> dict[str, str]:
        """All answers by name, open ones too."""
        return {one.name: self.answers.get(one.name, OPEN) for one in asked}

    def renew(self, asked: list[Question]) -> None:
        """Before the next segment all is asked again, but what holds for the session."""
        self.answers = {
            one.name: self.answers[one.name] for one in asked if one.keeps and one.name in self.answers
        }
        self.at = 0
