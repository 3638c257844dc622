"""The logbook after a story: nothing acknowledged is lost, the row is whole, each segment ends once."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from benchctl.assembly.build import Parts
from benchctl.logbook.keeper import Ticket
from benchctl.logbook.lines import SEGMENT_CLOSED
from benchctl.logbook.reader import Logbook, read
from tests.campaign.expected import explained
from tests.campaign.witness import Breach

if TYPE_CHECKING:
    from tests.campaign.story import Story


class Kept:
    """Every ticket that a story's programs were given for a record."""

    def __init__(self) -> None:
        self.tickets: list[Ticket] = []

    def watch(self, parts: Parts) -> None:
        """Remember the tickets of one more program."""
        journal = parts.runner.journal
        keep = journal.keep

        def keep_and_remember(*args: object, **named: object) -> Ticket:
            ticket = keep(*args, **named)  # type: ignore[arg-type]
            self.tickets.append(ticket)
            return ticket

        journal.keep = keep_and_remember  # type: ignore[method-assign]


def audit(story: Story, unkept: int) -> list[Breach]:
    """What the logbook shows that must not be."""
    book, kept = read(story.folder), story.kept
    wrong: list[str] = []
    if unkept:
        wrong.append(f"{unkept} records were not kept after the repair")
    if not book.sound:
        wrong.append(f"not sound: {book.damaged + book.breaks}")
    there = Counter(entry.id for entry in book.entries)
    lost = [ticket.record_id for ticket in kept.tickets if ticket.kept and not there[ticket.record_id]]
    if lost:
        wrong.append(f"kept and not there: {lost}")
    twice = [name for name, count in there.items() if count > 1]
    if twice:
        wrong.append(f"there twice: {twice}")
    wrong += _ends(book)
    breaches = [Breach(0.0, "logbook", what) for what in wrong]
    return breaches + [Breach(0.0, "cause", what) for what in _causes(story, book)]


def _ends(book: Logbook) -> list[str]:
    """Each start has one end, each end its start."""
    starts = [entry.id for entry in book.of_kind("segment_start")]
    ends = Counter(str(entry.fields.get("segment")) for entry in book.of_kind(*SEGMENT_CLOSED))
    wrong = [f"{name} has {ends[name]} ends" for name in starts if ends[name] != 1]
    return wrong + [f"an end without its start: {name}" for name in ends if name not in starts]


def _causes(story: Story, book: Logbook) -> list[str]:
    """Each end names one cause, and it is one that what happened explains; the board's own come first."""
    wrong = []
    witness = story.witness
    for entry in book.of_kind("segment_end"):
        reason, outcome = entry.fields.get("stop_reason"), str(entry.fields.get("outcome"))
        named = None if reason is None else str(reason)
        latest_s = entry.mono_s + story.asleep_s
        if not explained(story.case, named, outcome, witness.began_s, witness.acts, latest_s):
            wrong.append(f"at {entry.mono_s:.1f} s {outcome}: '{named}', which nothing explains")
    return wrong
