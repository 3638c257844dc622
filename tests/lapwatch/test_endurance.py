"""A day and night of watching: long."""

from __future__ import annotations

import math
import pickle

import pytest

from benchctl.lapwatch import LapWatch
from tests.lapwatch.spins import settings

HOUR_S = 3600.0


def play(watch: LapWatch, from_s: float, until_s: float) -> None:
    """Reports 5 times a second at 30 rpm, a lap of ratio 0.8 with six targets, one in a hundred lost."""
    gap_s = 60.0 / (30.0 * 0.8 * 6)
    number = math.ceil(from_s / gap_s)
    for report in range(int(from_s * 5), int(until_s * 5)):
        at_s = 0.2 * report
        while number * gap_s <= at_s:
            if number % 101:
                watch.pulse(number * gap_s)
            number += 1
        watch.status(at_s, 30.0, 30.0, 40.0 + math.sin(at_s))


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_memory_does_not_grow_in_24_hours() -> None:
    """All that a watch holds takes as many bytes after 24 hours as after one, to 2 kB, and it is steady."""
    watch = LapWatch(settings())
    play(watch, 0.0, HOUR_S)
    before = len(pickle.dumps(watch))
    play(watch, HOUR_S, 24.0 * HOUR_S)
    assert abs(len(pickle.dumps(watch)) - before) < 2_000
    assert watch.state == "steady"
