"""What a person sees on the running screen: its rows as text, and whether a word stands there in blocks."""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.tui.bench_app import BenchApp
from benchctl.tui.blocks import letters


def text_of(app: BenchApp) -> list[str]:
    """The rows of the terminal, as the compositor would write them (a private name, kept in this place)."""
    return ["".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips()]


def stands_in_blocks(words: str, rows: Sequence[str]) -> bool:
    """Whether `words` stand in block letters anywhere on the screen."""
    for low in (False, True):
        shape = letters(words, low)
        assert shape is not None, f"no shapes for {words}"
        for top in range(len(rows) - 2):
            at = rows[top].find(shape[0].rstrip()) if shape[0].strip() else -1
            if at >= 0 and all(shape[i].rstrip() in rows[top + i] for i in range(3)):
                return True
    return False
