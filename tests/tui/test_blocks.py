"""Figures and letters of blocks."""

from __future__ import annotations

import pytest

from benchctl.guard.words import REASONS
from benchctl.segment.states import State
from benchctl.session.words import STATE_WORDS
from benchctl.tui.blocks import clock, clock_up, figures, letters
from benchctl.tui.signs import ALARM_SIGN, DO_SIGN, NO_WORD, NO_WORD_DO, REASON_SIGN, WET_EDGE

ROWS = (5, 7, 9, 11, 15, 17, 21)


@pytest.mark.parametrize("rows", ROWS)
def test_figures_differ(rows: int) -> None:
    """No two figures look alike, and each is as high and as wide as the others."""
    shapes = {figure: figures(figure, rows) for figure in "0123456789-"}
    assert len(set(shapes.values())) == 11
    assert {len(shape) for shape in shapes.values()} == {rows}
    assert len({len(line) for shape in shapes.values() for line in shape}) == 1


@pytest.mark.parametrize("rows", ROWS)
def test_figures_have_seven_bars(rows: int) -> None:
    """The eight has every bar and covers all that any other figure covers."""
    eight = figures("8", rows)
    for figure in "0123456789":
        for y, line in enumerate(figures(figure, rows)):
            assert all(eight[y][x] == "█" for x, cell in enumerate(line) if cell == "█"), (figure, y)


def test_even_heights_are_refused() -> None:
    """A middle bar needs an odd number of rows."""
    with pytest.raises(ValueError, match="odd"):
        figures("1", 6)


def test_a_time_fits_half_of_eighty_columns() -> None:
    """At 80x24 the time takes less than half the width, so that what it means stands beside it."""
    assert len(figures("88:88", 5)[0]) <= 38


def test_all_letters_differ() -> None:
    """No two letters look alike."""
    shapes = [letters(letter) for letter in "ABCDEFGHIJKLMNPQRSTUVWXYZ123456789"]
    assert None not in shapes
    assert len(set(shapes)) == len(shapes)


def test_letters_keep_their_dots() -> None:
    """A letter's five rows of dots come back from its three rows of half blocks, high or low."""
    halves = {"█": "##", "▀": "#.", "▄": ".#", " ": ".."}
    for low, first in ((False, 0), (True, 1)):
        shape = letters("L", low)
        assert shape is not None
        dots = ["".join(halves[cell][half] for cell in line) for line in shape for half in (0, 1)]
        assert dots[first : first + 5] == ["#...", "#...", "#...", "#...", "####"]


@pytest.mark.parametrize("state", State)
def test_every_state_and_its_act_fit_eighty_columns(state: State) -> None:
    """What is happening and what to do stand in block letters at 80 columns, in every state."""
    for words in (STATE_WORDS[state].headline, DO_SIGN[state]):
        shape = letters(words)
        assert shape is not None, words
        assert len(shape[0]) <= 79, words


def test_acts_after_a_fault_fit_with_their_arrow() -> None:
    """So do the acts that follow a stop for a fault, and each of them is for a reason that exists."""
    assert set(REASON_SIGN) <= set(REASONS)
    for words in (*REASON_SIGN.values(), *ALARM_SIGN.values(), WET_EDGE, NO_WORD, NO_WORD_DO):
        shape = letters(words)
        assert shape is not None, words
        assert len(shape[0]) <= 76, words


def test_what_has_no_shape_is_not_drawn() -> None:
    """A sign without a block letter is told apart, not drawn wrong."""
    assert letters("50 €") is None
    assert letters("") is None


@pytest.mark.parametrize(
    ("seconds", "down", "up"),
    [(0.0, "00:00", "00:00"), (0.2, "00:01", "00:00"), (59.0, "00:59", "00:59"), (59.1, "01:00", "00:59"),
     (960.0, "16:00", "16:00"), (-3.0, "00:00", "00:00"), (7200.0, "99:59", "99:59")],
)  # fmt: skip
def test_a_countdown_is_rounded_up_and_a_running_clock_down(seconds: float, down: str, up: str) -> None:
    """Zero left means over, and no second is shown before it is full."""
    assert (clock(seconds), clock_up(seconds)) == (down, up)
