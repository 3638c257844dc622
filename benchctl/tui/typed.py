"""Words that are typed on the screen: a note, or another mark with the reason. Pure.

A line editor without a cursor: what is typed goes to the end, Backspace takes it away, Enter hands it on.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from benchctl.session.acts import Act
from benchctl.tui.rows import Row, block, centred, row, wrapped
from benchctl.tui.view import View
from benchctl.units import INCH

LONGEST = 400
GAPS = ("tab", "space")
_BARE = re.compile(r"-?[0-9]+([.][0-9]+)?")


class Typed(NamedTuple):
    """One kind of words: the act they go to (None: `Places.decide`), the title, what is asked for."""

    act: Act | None
    title: str
    asks: str
    begins: str = ""
    """What the words are handed on with; such a page has a key of its own, not its act's."""


TYPED: dict[str, Typed] = {
    "note": Typed(Act.NOTE, "NOTE", "Enter keeps the note"),
    "mark": Typed(
        Act.MARK,
        "ANOTHER MARK",
        "Its number, then why, such as: 9 chip at the drawn mark. After a segment that was cut short: used, "
        "or again. Enter takes it",
    ),
    "room": Typed(
        Act.PRESS,
        "ROOM TEMPERATURE",
        "What the thermometer says, such as 21.5, or with its unit 21.5 C or 70 F. Enter keeps it",
        "temperature ",
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


def handed_on(kind: Typed, words: str, system: str) -> str:
    """The words as they go out. A temperature without a unit has that of the person's units."""
    if kind.begins and _BARE.fullmatch(words):
        words = f"{words} {'degF' if system == INCH else 'degC'}"
    return kind.begins + words


def typed_page(view: View, kind: Typed, text: str, turning: bool) -> list[Row]:
    """The page on which the words are typed."""
    stop = (
        "While the table turns Space is STOP: Tab makes a gap." if turning else "Escape is STOP and leaves."
    )
    body = [*wrapped(f"{text}█", view.width - 2, "strong"), ()]
    body += wrapped(f"{kind.asks}. {stop}", view.width - 2)
    head = [centred(kind.title, view.width, "band"), ()]
    return block([*head, *((*row(" "), *line) for line in body)], view.height)
