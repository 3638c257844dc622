"""Pages of text: plan, logbook, the keys, a note, the mishaps of a rehearsal. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.tui.rows import Row, block, centred, fit, row, wrapped
from benchctl.tui.signs import KEY_OF
from benchctl.tui.view import View
from benchctl.units import printable

MISHAP_KEYS = "abcdefghijklmnopqrstuvwxyz"
"""Letters that choose a mishap; on that page they mean nothing else."""

_OTHER_KEYS = (
    ("1-5 ← →", "places"),
    (", .", "pace, if simulated"),
    ("J", "rehearse a mishap"),
    ("Y ↑ ↓", "answer, choose"),
    ("P", "put the look off"),
    ("U", "units: mm or inches"),
    ("D", "dark or light"),
    ("Q", "quit, stops first"),
)


def text_page(view: View, texts: Sequence[str], scroll: int) -> list[Row]:
    """Lines from elsewhere, broken at words, from `scroll` on; the last row says how to see more."""
    broken: list[Row] = []
    for text in texts:
        clean = printable(text, 400)
        indent = len(clean) - len(clean.lstrip())
        fits = len(clean) <= view.width - 2
        broken += (
            [row(f" {clean}")]
            if fits
            else [row(" " + " " * indent + line[0][0]) for line in _fold(clean, view.width - 2 - indent)]
        )
    rows = view.height - 1
    first = max(0, min(scroll, len(broken) - rows))
    shown = block(broken[first:], rows)
    more = len(broken) > rows
    last = (
        f" {first + 1} to {min(first + rows, len(broken))} of {len(broken)} lines, ↑ ↓ PageUp PageDown"
        if more
        else ""
    )
    return [*shown, row((last, "quiet"))]


def _fold(text: str, width: int) -> list[Row]:
    return wrapped(text.strip(), width) or [row("")]


def keys_page(view: View) -> list[Row]:
    """Every key on one page."""
    stop = [centred(text, view.width, "band") for text in ("", "■  SPACE or ESCAPE: STOP, everywhere  ■", "")]
    pairs = [(key, name) for key, name in KEY_OF.values()] + list(_OTHER_KEYS)
    half = (len(pairs) + 1) // 2
    cells = [f" {key:>7}  {name}" for key, name in pairs]
    middle = view.width // 2
    body = [
        fit(row(f"{left:<{middle}}{right}"), view.width)
        for left, right in zip(cells[:half], [*cells[half:], ""], strict=False)
    ]
    if view.height < len(body) + 4:
        stop = stop[1:2]
    return block([*stop, *body, row((" Any other key closes this page.", "quiet"))], view.height)


def note_page(view: View, text: str, turning: bool) -> list[Row]:
    """One line of a note."""
    help_text = (
        "While the table turns Space is STOP: Tab makes a gap. Enter keeps the note."
        if turning
        else "Enter keeps the note; Escape is STOP and leaves."
    )
    body = [*wrapped(f"{text}█", view.width - 2, "strong"), (), *wrapped(help_text, view.width - 2)]
    return block(
        [centred("NOTE", view.width, "band"), (), *((*row(" "), *line) for line in body)], view.height
    )


def mishap_page(view: View, mishaps: Sequence[tuple[str, str]]) -> list[Row]:
    """The mishaps that can be set off on the simulated bench, each by a letter."""
    body = [
        fit(row((f" {key.upper()}  ", "strong"), f"{name:<20}{line}"), view.width)
        for key, (name, line) in zip(MISHAP_KEYS, mishaps, strict=False)
    ]
    if not body:
        body = [row(" No mishap can be rehearsed on this bench.")]
    head = centred("REHEARSE A MISHAP: press its letter", view.width, "band")
    if len(body) + 1 > view.height:
        half = (len(mishaps) + 1) // 2
        names = [f" {key.upper()}  {name}" for key, (name, _) in zip(MISHAP_KEYS, mishaps, strict=False)]
        middle = view.width // 2
        body = [row(f"{a:<{middle}}{b}") for a, b in zip(names[:half], [*names[half:], ""], strict=False)]
    return block([head, *body], view.height)
