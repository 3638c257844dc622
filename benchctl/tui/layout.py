"""How many rows each part of the page of the running segment gets. Pure.

Time, word and act are never left out. What else fits comes in this order: letters instead of text, the
figures, the strips; then all grow in turn, so that a large terminal can be read from as far as it allows.
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.tui.blocks import LETTER_ROWS, figures

FIGURES_ROWS = 5
CHART_ROWS = 4
CHART_MOST = 16
TIME_HEIGHTS = (5, 7, 9, 11, 13, 15, 17, 19, 21)
FACTS_WIDTH = 32
"""Columns that what stands beside the time needs, from seven rows of time on."""


class Wants(NamedTuple):
    """What the parts could use: the heights in which word and act fit, and whether there is a chart."""

    words: tuple[int, ...]
    acts: tuple[int, ...]
    chart: bool


class Rows(NamedTuple):
    """The rows of each part; `do` has one for its sentence, `lap` stands in for the figures."""

    word: int = 1
    time: int = 5
    do: int = 1
    lap: int = 0
    figures: int = 0
    charts: int = 0

    def grown(self, height: int, **parts: int) -> Rows:
        """With these parts as high as asked, where all still fits `height` rows; else as it is."""
        new = self._replace(**{part: max(rows, getattr(self, part)) for part, rows in parts.items()})
        return new if sum(new) <= height else self


def plan_rows(width: int, height: int, wants: Wants) -> Rows:
    """The rows of each part on a page of this size; their sum is at most `height`."""
    rows = Rows().grown(height, word=LETTER_ROWS)
    rows = rows.grown(height, do=LETTER_ROWS).grown(height, do=LETTER_ROWS + 1)
    with_figures = rows.grown(height, figures=FIGURES_ROWS)
    rows = with_figures if with_figures != rows else rows.grown(height, lap=1)
    if wants.chart and rows.figures:
        rows = rows.grown(height, charts=CHART_ROWS)
    times = [tall for tall in TIME_HEIGHTS if time_width(tall) + FACTS_WIDTH <= width]
    rows = _letters(rows, height, wants, most=6)
    rows = _time(rows, height, [tall for tall in times if tall <= 11])
    rows = _letters(rows, height, wants, most=11)
    if rows.charts:
        rows = rows.grown(height, charts=min(10, rows.charts + height - sum(rows)))
    rows = _time(rows, height, times)
    if rows.charts:
        rows = rows.grown(height, charts=min(CHART_MOST, rows.charts + height - sum(rows)))
    return rows


def time_width(rows: int) -> int:
    """Columns of a time such as 00:00 in figures of this height."""
    return len(figures("00:00", rows)[0]) + 4


def _letters(rows: Rows, height: int, wants: Wants, most: int) -> Rows:
    for tall in wants.acts:
        if tall <= most:
            rows = rows.grown(height, do=tall + 1)
    for tall in wants.words:
        if tall <= most:
            rows = rows.grown(height, word=tall)
    return rows


def _time(rows: Rows, height: int, times: list[int]) -> Rows:
    for tall in times:
        rows = rows.grown(height, time=tall)
    return rows
