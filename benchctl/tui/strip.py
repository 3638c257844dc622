"""A strip chart in braille: two columns and four rows of dots a character, a band for what is normal.

The dots of a character are numbered as Unicode's braille block does (U+2800, the Unicode Standard).
"""

from __future__ import annotations

from collections.abc import Sequence

_DOTS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_EMPTY = 0x2800


def strip(
    values: Sequence[float | None],
    columns: int,
    rows: int,
    low: float,
    high: float,
    band: tuple[float, float] | None = None,
    ground: float | None = None,
) -> list[str]:
    """The newest `2 * columns` values as `rows` lines of `columns` characters, the newest at the right.

    What lies between a value and `ground` is filled, so that a dip stands out; without it only the values
    are drawn, joined. The edges of `band` are sparse dots. A None is a gap; values outside lie at the border.
    """
    cells = [[_EMPTY] * columns for _ in range(rows)]
    height, width = 4 * rows, 2 * columns

    def level(value: float) -> int:
        share = (value - low) / (high - low)
        return min(height - 1, max(0, round((1.0 - share) * (height - 1))))

    def put(x: int, y: int) -> None:
        cells[y // 4][x // 2] |= _DOTS[x % 2][y % 4]

    for edge in band or ():
        for x in range(1, width, 4):
            put(x, level(edge))
    shown = list(values)[-width:]
    before: int | None = None
    for x, value in enumerate(shown, start=width - len(shown)):
        now = None if value is None else level(value)
        if now is not None:
            other = level(ground) if ground is not None else now if before is None else before
            low_y, high_y = min(now, other), max(now, other)
            for y in range(low_y, high_y + 1):
                put(x, y)
        before = now
    return ["".join(chr(cell) for cell in line) for line in cells]
