"""The job reckoned for the screen: the lines of its plan place, and the person's answer to the suggestion."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.assembly.build import Parts

_NO = ("no", "n", "not", "declined")
_YES = ("yes", "y", "accepted")


class Reckoner:
    """Reckons anew when the logbook has grown. `lines` takes up to a second and may run in any thread."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._known: tuple[int, dict[str, Any]] | None = None

    def lines(self) -> list[str]:
        """What is left by zone, the suggestion, the regime, the bench beside the mechanics."""
        from benchctl.planner.reckon_text import reckoned_lines

        told = self._told()
        lines = reckoned_lines(told)
        if told["suggestion"] is None:
            return lines
        return [lines[0], "E: say yes or no to that; nothing is changed by itself.", *lines[1:]]

    def decide(self, text: str) -> str:
        """Keep the person's yes or no to the suggestion last shown, with the reason; says what was kept.

        It is the one that the person read, whatever has come into the logbook since; it takes no time.
        """
        from benchctl.planner.reckoned import decision

        word, _, why = text.strip().partition(" ")
        word = word.lower().strip(",.:;")
        if word not in _YES + _NO:
            return "Not kept: begin with yes or no, then why."
        told = self._known[1] if self._known else {}
        if not told.get("suggestion"):
            return "Not kept: no suggestion is shown on the plan; T keeps a note."
        fields = decision(
            told["suggestion"],
            mirror=told["mirror"],
            segment=told["last_segment"],
            taken="accepted" if word in _YES else "declined",
            why=why.strip(),
        )
        self._parts.runner.journal.keep("decision", fields)
        self._known = None
        return f"Kept: {fields['decision']}."

    def _told(self) -> dict[str, Any]:
        from benchctl.assembly.job_so_far import reckoning_of, so_far
        from benchctl.logbook.reader import read
        from benchctl.planner.reckoned import reckoned

        book = read(self._parts.keeper.folder, quick=True)
        if self._known is None or self._known[0] != len(book.entries):
            job = self._parts.runner.facts.job
            found = so_far(book, job)
            told = reckoned(reckoning_of(job, found, [book]), found.pass_ends_in)
            self._known = (len(book.entries), told | {"last_segment": found.last_segment})
        return self._known[1]
