"""The strip charts' columns."""

from __future__ import annotations

from benchctl.session.view import COLUMNS, Chart


def test_a_column_every_few_seconds() -> None:
    """A short segment has a column each 2 s, a long one fewer, so that all of it fits."""
    chart = Chart(60.0)
    for tick in range(601):
        chart.see(tick / 10.0, 0.9, 40.0)
    assert [column.at_s for column in chart.columns] == [2.0 * count for count in range(31)]
    long = Chart(4 * 3600.0)
    for second in range(4 * 3600):
        long.see(float(second), None, None)
    assert len(long.columns) <= COLUMNS
    assert long.columns[0].at_s == 0.0


def test_the_next_segment_begins_its_own_chart() -> None:
    """Time since the start that runs back is another segment: its columns come at once, without the old."""
    chart = Chart(60.0)
    for second in range(61):
        chart.see(float(second), 0.9, 40.0)
    chart.see(0.0, 0.5, 20.0)
    chart.see(2.5, 0.6, 21.0)
    assert chart.columns == ((0.0, 0.5, 20.0), (2.5, 0.6, 21.0))
