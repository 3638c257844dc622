"""Words in block letters as wide as the screen lets them be, and the band that says what to do now. Pure."""

from __future__ import annotations

from benchctl.tui.blocks import LETTER_HEIGHTS, LETTER_ROWS, letters
from benchctl.tui.rows import Row, block, centred, fit, row
from benchctl.tui.signs import NARROW

ARROW_COLUMNS = 4


def large(words: str, width: int, low: bool = False, rows: int = LETTER_ROWS) -> tuple[str, ...] | None:
    """`words` in the largest block letters of at most `width` columns and `rows` rows, or None.

    A shorter form of the words is taken before smaller letters are.
    """
    for height in reversed(LETTER_HEIGHTS):
        for form in (words, NARROW.get(words.upper(), "")):
            shape = letters(form, low, height) if height <= rows else None
            if shape is not None and len(shape[0]) <= width:
                return shape
    return None


def heights(words: str, width: int) -> tuple[int, ...]:
    """The heights in which `words` or their shorter form fit `width` columns."""
    return tuple(h for h in LETTER_HEIGHTS if len(large(words, width, rows=h) or ()) == h)


def band(
    sign: str, sentence: str, width: int, rows: int = LETTER_ROWS + 1, ground: str = "band"
) -> list[Row]:
    """What to do now: block letters on a band, the sentence below; in small letters where rows are few."""
    below = fit(row((f" ▶ {sentence}", "strong")), width)
    shape = large(sign, width - ARROW_COLUMNS, low=True, rows=rows - 1) if rows >= LETTER_ROWS else None
    if shape is None:
        empty = [centred("", width, ground)] * (rows // 3)
        return block([*empty, centred(f"▶ {sign} ◀", width, ground), below], rows)
    at = len(shape) // 2
    lines = [row((f" {'▶' if y == at else ' '} {text}", ground)) for y, text in enumerate(shape)]
    spare = [centred("", width, ground)] * (rows - 1 - len(shape))
    return block([*spare, *(fit(line, width, ground) for line in lines), below], rows)
