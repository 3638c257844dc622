"""What a person sees on the running screen: its rows as text, and whether a word stands there in blocks."""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.tui.bench_app import BenchApp
from benchctl.tui.blocks import LETTER_HEIGHTS, letters


def text_of(app: BenchApp) -> list[str]:
    """The rows of the terminal, as the compositor would write them (a private name, kept in this place)."""
    return ["".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips()]


def stands_in_blocks(words: str, rows: Sequence[str]) -> bool:
    """Whether `words` stand in block letters of any size anywhere on the screen."""
    shapes = [letters(words, low, height) for low in (False, True) for height in LETTER_HEIGHTS]
    assert None not in shapes, f"no shapes for {words}"
    return any(_stands(shape, rows) for shape in shapes if shape is not None)


def _stands(shape: Sequence[str], rows: Sequence[str]) -> bool:
    lit = [line.rstrip() for line in shape if line.strip()]
    width = max(len(line) for line in lit)
    for top in range(len(rows) - len(lit) + 1):
        at = rows[top].find(lit[0])
        while at >= 0:
            if all(rows[top + y][at : at + width].rstrip() == line for y, line in enumerate(lit)):
                return True
            at = rows[top].find(lit[0], at + 1)
    return False
