"""Figures and letters built of blocks, to be read across a workshop. Our own shapes, pure text.

Figures are seven bars each, drawn for any height from five rows. Letters are five dots high, two dots to
a character cell, so a word of up to about sixteen letters takes three rows of eighty columns.
"""

from __future__ import annotations

import math
from functools import lru_cache

FULL, UPPER, LOWER = "█", "▀", "▄"
LETTER_ROWS = 3
LETTER_HEIGHTS = (3, 6, 11)
"""The sizes in which letters come, in rows."""

_BARS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc",
    "5": "afgcd", "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg", "-": "g",
}  # fmt: skip
"""Bars of a figure: a top, b and c right, d bottom, e and f left, g middle."""

_LETTERS: dict[str, tuple[str, ...]] = {
    "A": (".##.", "#..#", "####", "#..#", "#..#"),
    "B": ("###.", "#..#", "###.", "#..#", "###."),
    "C": (".###", "#...", "#...", "#...", ".###"),
    "D": ("###.", "#..#", "#..#", "#..#", "###."),
    "E": ("####", "#...", "###.", "#...", "####"),
    "F": ("####", "#...", "###.", "#...", "#..."),
    "G": (".###", "#...", "#.##", "#..#", ".###"),
    "H": ("#..#", "#..#", "####", "#..#", "#..#"),
    "I": ("###", ".#.", ".#.", ".#.", "###"),
    "J": ("..##", "...#", "...#", "#..#", ".##."),
    "K": ("#..#", "#.#.", "##..", "#.#.", "#..#"),
    "L": ("#...", "#...", "#...", "#...", "####"),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#"),
    "N": ("#..#", "##.#", "#.##", "#..#", "#..#"),
    "O": (".##.", "#..#", "#..#", "#..#", ".##."),
    "P": ("###.", "#..#", "###.", "#...", "#..."),
    "Q": (".##.", "#..#", "#..#", "#.#.", ".#.#"),
    "R": ("###.", "#..#", "###.", "#.#.", "#..#"),
    "S": (".###", "#...", ".##.", "...#", "###."),
    "T": ("#####", "..#..", "..#..", "..#..", "..#.."),
    "U": ("#..#", "#..#", "#..#", "#..#", ".##."),
    "V": ("#...#", "#...#", "#...#", ".#.#.", "..#.."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#"),
    "X": ("#..#", "#..#", ".##.", "#..#", "#..#"),
    "Y": ("#...#", ".#.#.", "..#..", "..#..", "..#.."),
    "Z": ("####", "...#", ".##.", "#...", "####"),
    "0": (".##.", "#..#", "#..#", "#..#", ".##."),
    "1": (".#.", "##.", ".#.", ".#.", "###"),
    "2": ("###.", "...#", ".##.", "#...", "####"),
    "3": ("###.", "...#", ".##.", "...#", "###."),
    "4": ("#..#", "#..#", "####", "...#", "...#"),
    "5": ("####", "#...", "###.", "...#", "###."),
    "6": (".##.", "#...", "###.", "#..#", ".##."),
    "7": ("####", "...#", "..#.", ".#..", ".#.."),
    "8": (".##.", "#..#", ".##.", "#..#", ".##."),
    "9": (".##.", "#..#", ".###", "...#", ".##."),
    ":": (".", "#", ".", "#", "."),
    ".": (".", ".", ".", ".", "#"),
    ",": ("..", "..", "..", ".#", "#."),
    ";": ("..", ".#", "..", ".#", "#."),
    "-": ("...", "...", "###", "...", "..."),
    "+": ("...", ".#.", "###", ".#.", "..."),
    "!": ("#", "#", "#", ".", "#"),
    "?": ("###.", "...#", ".##.", "....", ".#.."),
    "'": ("#", "#", ".", ".", "."),
    "/": ("...#", "...#", "..#.", ".#..", "#..."),
    " ": (".", ".", ".", ".", "."),
}


_HALVES = {("#", "#"): FULL, ("#", "."): UPPER, (".", "#"): LOWER, (".", "."): " "}


@lru_cache(maxsize=128)
def letters(words: str, low: bool = False, rows: int = LETTER_ROWS) -> tuple[str, ...] | None:
    """Block letters in `rows` rows (one of LETTER_HEIGHTS), all of one width; None where one has no shape.

    Three rows are of half blocks; in six and eleven a dot is one and two whole rows. The spare half row or
    row lies below the letters, or above them where they stand `low`.
    """
    glyphs = [_LETTERS.get(character) for character in words.upper()]
    if not glyphs or any(glyph is None for glyph in glyphs):
        return None
    dots = [".".join(glyph[y] for glyph in glyphs if glyph) for y in range(5)]
    dots.insert(0 if low else 5, "." * len(dots[0]))
    if rows == LETTER_ROWS:
        halves = [zip(dots[y], dots[y + 1], strict=True) for y in (0, 2, 4)]
        return tuple("".join(_HALVES[pair] for pair in half) for half in halves)
    size = rows // 5
    wide = ["".join((FULL if dot == "#" else " ") * 2 * size for dot in line) for line in dots]
    tall = [line for line in wide for _ in range(size)]
    return tuple(tall[-rows:] if low else tall[:rows])


@lru_cache(maxsize=512)
def figures(text: str, rows: int = 5) -> tuple[str, ...]:
    """`text` (digits, colon, minus, space) as `rows` rows of block figures; `rows` is odd and at least 5.

    Bars lie one row thick up to nine rows, two from eleven and three from seventeen on; a figure is about
    0.6 as wide as it is high, for character cells twice as high as wide.
    """
    if rows < 5 or rows % 2 == 0:
        raise ValueError(f"figures have an odd number of rows from 5 on, not {rows}")
    glyphs = [_figure(character, rows) for character in text]
    gap = " " * figure_gap(rows)
    return tuple(gap.join(glyph[y] for glyph in glyphs) for y in range(rows))


def figure_gap(rows: int) -> int:
    """Columns between two figures of this height."""
    return 1 if rows < 9 else 2 if rows < 17 else 3


def _figure(character: str, rows: int) -> list[str]:
    thick = max(1, (rows + 1) // 6 if rows >= 11 else 1)
    stroke = 2 * thick + (1 if rows == 9 else 0)
    width = 2 * math.ceil(0.6 * rows) + (1 if rows == 5 else 0)
    if character == ":":
        above = range(rows // 3 - thick + 1, rows // 3 + 1)
        lit = {*above, *(rows - 1 - y for y in above)}
        return [(FULL if y in lit else " ") * stroke for y in range(rows)]
    if character == " ":
        return [" " * width] * rows
    return [_bar_row(_BARS[character], y, rows, width, stroke, thick) for y in range(rows)]


def _bar_row(bars: str, y: int, rows: int, width: int, stroke: int, thick: int) -> str:
    middle = rows // 2
    if (y < thick and "a" in bars) or (y >= rows - thick and "d" in bars):
        return FULL * width
    if middle - thick // 2 <= y < middle - thick // 2 + thick and "g" in bars:
        return FULL * width
    left, right = ("f", "b") if y < middle or (y == middle and "e" not in bars) else ("e", "c")
    if y == middle and "g" not in bars:
        left, right = "fe", "bc"
    lit_left = any(bar in bars for bar in left)
    lit_right = any(bar in bars for bar in right)
    return (
        (FULL if lit_left else " ") * stroke
        + " " * (width - 2 * stroke)
        + (FULL if lit_right else " ") * stroke
    )


def clock(seconds: float) -> str:
    """Minutes and seconds as `mm:ss`, rounded up so that zero means over; never more than 99:59."""
    whole = min(99 * 60 + 59, max(0, math.ceil(seconds - 1e-6)))
    return f"{whole // 60:02d}:{whole % 60:02d}"


def clock_up(seconds: float) -> str:
    """As `clock` for a time that grows: rounded down."""
    return clock(math.floor(max(0.0, seconds)))
