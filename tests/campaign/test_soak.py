"""Memory and open files of a program that runs segment after segment."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.benchmarks.soak_memory import Hour, growth, soak

linux = pytest.mark.skipif(sys.platform != "linux", reason="needs /proc")


@linux
@pytest.mark.long
@pytest.mark.timeout(4 * 3600)
def test_a_day_of_segments_leaves_memory_and_files_flat(tmp_path: Path) -> None:
    """Over 24 simulated hours memory grows by less than 1 MB after the first hour, open files not at all."""
    told = list(soak(24.0, tmp_path))
    kib, files = growth(told)
    assert len(told) == 24
    assert kib < 1024
    assert files <= 0


def test_growth_is_seen() -> None:
    """Growth is counted from the first hour to the worst later one."""
    hours = [Hour(1, 2, 5000, 9, 3), Hour(2, 5, 7000, 12, 5), Hour(3, 8, 6000, 9, 7)]
    assert growth(hours) == (2000, 3)
