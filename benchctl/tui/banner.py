"""Words in block letters as wide as the screen lets them be, and the band that says what to do now. Pure."""

from __future__ import annotations

from benchctl.tui.blocks import LETTER_ROWS, letters
from benchctl.tui.rows import Row, block, centred, fit, row
from benchctl.tui.signs import NARROW

ARROW_COLUMNS = 4


def large(words: str, width: int, low: bool = False) -> tuple[str, ...] | None:
    """`words`, or their shorter form, in block letters of at most `width` columns; None if neither fits."""
    for form in (words, NARROW.get(words.upper(), "")):
        shape = letters(form, low)
        if shape is not None and len(shape[0]) <= width:
            return shape
    return None


def band(
    sign: str, sentence: str, width: int, rows: int = LETTER_ROWS + 1, ground: str = "band"
) -> list[Row]:
    """What to do now: block letters on a band, the sentence below; in small letters where rows are few."""
    below = fit(row((f" ▶ {sentence}", "strong")), width)
    shape = large(sign, width - ARROW_COLUMNS, low=True) if rows >= LETTER_ROWS else None
    if shape is None:
        empty = [centred("", width, ground)] * (rows // 3)
        return block([*empty, centred(f"▶ {sign} ◀", width, ground), below], rows)
    lines = [row((f" {'▶' if y == 1 else ' '} {text}", ground)) for y, text in enumerate(shape)]
    return block([*(fit(line, width, ground) for line in lines), below], rows)
