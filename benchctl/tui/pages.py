"""Pages of text: plan, logbook, the keys, the mishaps of a rehearsal. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.tui.rows import Row, block, centred, fit, row, wrapped
from benchctl.tui.signs import KEY_OF
from benchctl.tui.view import View
from benchctl.units import printable

MISHAP_KEYS = "abcdefghijklmnopqrstuvwxyz"
"""Letters that choose a mishap; on that page they mean nothing else."""

OTHER_KEYS = (
    ("1-5 ← →", "places", "places"),
    ("0", "list of alarms", "alarms"),
    (", .", "pace, if simulated", "pace"),
    ("J", "rehearse a mishap", "mishap"),
    ("Y ↑ ↓", "answer, choose", "choose"),
    ("P", "put the look off", "look later"),
    ("E", "answer the suggestion", "suggestion"),
    ("U", "units: mm or inches", "mm or inch"),
    ("D", "dark or light", "dark, light"),
    ("Q", "quit, stops first", "quit"),
)
"""Keys of the program itself, their names, and shorter ones for a small screen."""


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
    """Every key on one page: in two columns, or in three with shorter names where rows are few."""
    stop = [centred(text, view.width, "band") for text in ("", "■  SPACE or ESCAPE: STOP, everywhere  ■", "")]
    keys = [(key, name, name) for key, name in KEY_OF.values()] + list(OTHER_KEYS)
    columns = 2 if (len(keys) + 1) // 2 + 4 <= view.height else 3
    cells = [f"{key:>7} {name if columns == 2 else short}" for key, name, short in keys]
    rows = -(-len(cells) // columns)
    width = view.width // columns
    body = [fit(row("".join(f"{cell:<{width}}" for cell in cells[y::rows])), view.width) for y in range(rows)]
    if view.height < len(body) + 4:
        stop = stop[1:2]
    return block([*stop, *body, row((" Any key closes this page and acts.", "quiet"))], view.height)


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
