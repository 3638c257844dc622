"""Rows of text with a role for each stretch; laid side by side, fitted, wrapped. Pure, no terminal.

A role says what a stretch means (`danger`, `strong`, ...); `paint` turns roles into styles. Outside text
is shown as it is: nothing here reads markup.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from rich.cells import cell_len, set_cell_size

Span = tuple[str, str]
Row = tuple[Span, ...]

ELLIPSIS = "…"


def row(*pieces: str | Span) -> Row:
    """A row of pieces; a bare string has no role."""
    return tuple((piece, "") if isinstance(piece, str) else piece for piece in pieces)


def width_of(line: Row) -> int:
    """Cells that a row takes."""
    return sum(cell_len(text) for text, _ in line)


def fit(line: Row, width: int, role: str = "") -> Row:
    """The row in exactly `width` cells: filled in `role`, or shortened at a word with an ellipsis."""
    have = width_of(line)
    if have < width:
        return (*line, (" " * (width - have), role))
    return line if have == width else _shorten(line, width)


def _shorten(line: Row, width: int) -> Row:
    kept: list[Span] = []
    left = width
    for text, role in line:
        if cell_len(text) < left:
            kept.append((text, role))
            left -= cell_len(text)
            continue
        head = set_cell_size(text, max(0, left - 1))
        at_word = head.rsplit(" ", 1)[0] if " " in head and len(text) > len(head) else head
        kept.append((set_cell_size(at_word + ELLIPSIS, left) if left else "", role))
        break
    return tuple(kept)


def in_role(line: Row, role: str) -> Row:
    """The row with every stretch in one role."""
    return tuple((text, role) for text, _ in line)


def centred(text: str, width: int, role: str = "") -> Row:
    """`text` in the middle of `width` cells, all in one role."""
    if cell_len(text) > width:
        return fit(((text, role),), width, role)
    left = (width - cell_len(text)) // 2
    return ((" " * left + text + " " * (width - left - cell_len(text)), role),)


def ends(left: Row, right: Row, width: int, role: str = "") -> Row:
    """`left` and `right` at the two ends; what does not fit is left out from the right piece first."""
    gap = width - width_of(left) - width_of(right)
    if gap < 1:
        return fit(left, width, role)
    return (*left, (" " * gap, role), *right)


def beside(
    left: Sequence[Row], right: Sequence[Row], left_width: int, width: int, role: str = ""
) -> list[Row]:
    """Two blocks side by side; the shorter one is filled with empty rows in `role`."""
    rows = max(len(left), len(right))
    return [
        (
            *fit(left[y] if y < len(left) else (), left_width, role),
            *fit(right[y] if y < len(right) else (), width - left_width, role),
        )
        for y in range(rows)
    ]


def wrapped(text: str, width: int, role: str = "") -> list[Row]:
    """`text` broken at words into rows."""
    return [row((line, role)) for line in textwrap.wrap(text, max(8, width), break_long_words=True)]


def paragraphs(texts: Iterable[Span], width: int, rows: int) -> list[Row]:
    """As `fitting`, filled to exactly `rows` rows."""
    return block(fitting(texts, width, rows), rows)


def fitting(texts: Iterable[Span], width: int, rows: int) -> list[Row]:
    """Texts broken at words, in order, in at most `rows` rows; what does not fit whole is left out whole."""
    shown: list[Row] = []
    for text, role in texts:
        broken = wrapped(text, width, role) if text else []
        if len(shown) + len(broken) <= rows:
            shown += broken
    return [fit(line, width) for line in shown]


def block(rows: Iterable[Row], height: int) -> list[Row]:
    """Exactly `height` rows: cut at the end, or filled with empty ones."""
    kept = list(rows)[: max(0, height)]
    return [*kept, *[()] * (height - len(kept))]


def plain(line: Row) -> str:
    """The row's text alone."""
    return "".join(text for text, _ in line)
