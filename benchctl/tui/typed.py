"""Words that are typed on the screen: a note, or another mark with the reason. Pure.

A line editor without a cursor: what is typed goes to the end, Backspace takes it away, Enter hands it on.
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.session.acts import Act
from benchctl.tui.rows import Row, block, centred, row, wrapped
from benchctl.tui.view import View

LONGEST = 400
GAPS = ("tab", "space")


class Typed(NamedTuple):
    """One kind of words: the act they go to (None: `Places.decide`), the title, what is asked for."""

    act: Act | None
    title: str
    asks: str


TYPED: dict[str, Typed] = {
    "note": Typed(Act.NOTE, "NOTE", "Enter keeps the note"),
    "mark": Typed(
        Act.MARK,
        "ANOTHER MARK",
        "Its number, then why, such as: 9 chip at the drawn mark. After a segment that was cut short: used, "
        "or again. Enter takes it",
    ),
    "advice": Typed(
        None,
        "THE SUGGESTION",
        "yes, or no and why, such as: no the edge is worse. Nothing is changed by itself; Enter keeps it",
    ),
}


def edited(text: str, key: str, character: str) -> str:
    """The text after one more key."""
    if key == "backspace":
        return text[:-1]
    return (text + (" " if key in GAPS else character if character.isprintable() else ""))[:LONGEST]


def typed_page(view: View, kind: Typed, text: str, turning: bool) -> list[Row]:
    """The page on which the words are typed."""
    stop = (
        "While the table turns Space is STOP: Tab makes a gap." if turning else "Escape is STOP and leaves."
    )
    body = [*wrapped(f"{text}█", view.width - 2, "strong"), ()]
    body += wrapped(f"{kind.asks}. {stop}", view.width - 2)
    head = [centred(kind.title, view.width, "band"), ()]
    return block([*head, *((*row(" "), *line) for line in body)], view.height)
