"""The braille strips."""

from __future__ import annotations

import unicodedata

from benchctl.lapwatch.levels import FAST_SHARE
from benchctl.lapwatch.signs import BACK_SHARE
from benchctl.tui.polish import BAND
from benchctl.tui.strip import strip


def dots(cell: str) -> set[str]:
    """The numbers of the dots in a braille character, by its name in the Unicode Standard."""
    name = unicodedata.name(cell)
    return set() if name == "BRAILLE PATTERN BLANK" else set(name.removeprefix("BRAILLE PATTERN DOTS-"))


def test_dots_lie_where_the_unicode_standard_numbers_them() -> None:
    """Left column 1 2 3 7 downwards, right column 4 5 6 8: read from the characters' standard names."""
    for level, left, right in ((3.0, "1", "4"), (2.0, "2", "5"), (1.0, "3", "6"), (0.0, "7", "8")):
        assert dots(strip([level, None], 1, 1, 0.0, 3.0)[0]) == {left}
        assert dots(strip([None, level], 1, 1, 0.0, 3.0)[0]) == {right}


def test_the_newest_value_stands_at_the_right() -> None:
    """A short record fills the strip from the right."""
    rows = strip([1.0], 4, 1, 0.0, 1.0)
    assert rows[0][:3] == "\u2800" * 3
    assert dots(rows[0][3]) == {"4"}


def test_a_gap_is_left_open() -> None:
    """Where nothing was measured nothing is drawn, and no line joins over it."""
    rows = strip([0.0, None, None, 3.0], 2, 1, 0.0, 3.0)
    assert [dots(cell) for cell in rows[0]] == [{"7"}, {"4"}]


def test_values_are_joined() -> None:
    """A jump is drawn through, so that it is seen as one line."""
    assert dots(strip([0.0, 3.0], 1, 1, 0.0, 3.0)[0]) == {"7", "4", "5", "6", "8"}


def test_what_lies_outside_is_drawn_at_the_border() -> None:
    """A value out of range is not lost."""
    assert dots(strip([9.0, -9.0], 1, 1, 0.0, 3.0)[0]) >= {"1", "8"}


def test_a_dip_is_filled_to_the_expected_value() -> None:
    """The space between a value and the ground is filled."""
    rows = strip([0.0, 3.0], 1, 1, 0.0, 3.0, None, 3.0)
    assert dots(rows[0]) == {"1", "2", "3", "7", "4"}


def test_the_band_is_drawn_under_the_values() -> None:
    """The edges of the normal band are seen even without values."""
    rows = strip([], 8, 2, 0.0, 7.0, (1.0, 6.0))
    assert any(dots(cell) for cell in rows[0])
    assert any(dots(cell) for cell in rows[1])


def test_the_band_is_the_watchers() -> None:
    """The dotted edges stand where the watcher calls a lap fast, and back to normal after it had slowed."""
    assert BAND == FAST_SHARE == BACK_SHARE
