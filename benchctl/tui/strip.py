"""A strip chart in braille: two columns and four rows of dots a character, a band for what is normal."""

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
) -> list[str]:
    """The newest `2 * columns` values as `rows` lines; the edges of `band` are drawn as sparse dots."""
    cells = [[_EMPTY] * columns for _ in range(rows)]
    shown = list(values)[-2 * columns :]
    height = 4 * rows

    def level(value: float) -> int:
        share = (value - low) / (high - low)
        return min(height - 1, max(0, round((1.0 - share) * (height - 1))))

    def put(x: int, y: int) -> None:
        cells[y // 4][x // 2] |= _DOTS[x % 2][y % 4]

    if band is not None:
        for edge in band:
            for x in range(0, 2 * columns, 4):
                put(x, level(edge))
    before: int | None = None
    for x, value in enumerate(shown):
        if value is None:
            before = None
            continue
        now = level(value)
        reach = range(min(now, before), max(now, before) + 1) if before is not None else (now,)
        for y in reach:
            put(x, y)
        before = now
    return ["".join(chr(cell) for cell in row) for row in cells]
