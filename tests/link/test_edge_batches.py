"""Batches of edge stamps put in order."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchctl.link.edge_batches import EdgeBatches
from benchctl.models.readings import LapPulse, TablePulse
from firmware_protocol import messages


def batch(first: int, count: int, sensor: int = messages.TABLE_SENSOR) -> messages.Edges:
    """Stamps of a table on which edge number n passes at n seconds."""
    return messages.Edges(sensor, first, tuple(n * 1_000_000 for n in range(first, first + count)))


def test_pulses_of_each_sensor() -> None:
    """Each stamp becomes a pulse of its sensor, in seconds of the board."""
    edges = EdgeBatches()
    assert edges.readings(batch(1, 2), 2.5) == [TablePulse(1.0), TablePulse(2.0)]
    assert edges.readings(batch(7, 1, messages.LAP_SENSOR), 7.5) == [LapPulse(7.0)]
    assert edges.readings(batch(3, 1), 3.5) == [TablePulse(3.0)]
    assert edges.missed == 0


@given(st.lists(st.integers(1, 16), min_size=1, max_size=30), st.data())
def test_what_the_cable_does_to_batches(sizes: list[int], data: st.DataObject) -> None:
    """Lost, doubled and late batches: pulses rise strictly, and seen plus missed are all up to the last."""
    firsts = [1 + sum(sizes[:n]) for n in range(len(sizes))]
    sent = list(zip(firsts, sizes, strict=True))
    order = data.draw(st.lists(st.sampled_from(sent), max_size=40))
    edges, seen = EdgeBatches(), list[float]()
    for first, count in order:
        seen += [pulse.at_s for pulse in edges.readings(batch(first, count), first + count + 0.5)]
    assert seen == sorted(set(seen))
    if order:
        begin, end = order[0][0], max(first + count for first, count in order)
        assert len(seen) + edges.missed == end - begin


def test_a_restart_begins_to_count_anew() -> None:
    """After a restart the first batch is taken whole, whatever its number, and nothing counts as missed."""
    edges = EdgeBatches()
    edges.readings(batch(500, 3), 503.0)
    edges.restart()
    assert len(edges.readings(batch(1, 3), 3.5)) == 3
    assert edges.missed == 0
