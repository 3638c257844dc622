"""When the load may be asked."""

from __future__ import annotations

import pytest

from benchctl.lapwatch.reading import Habits
from benchctl.lapwatch.witness import Witness
from tests.lapwatch.spins import settings


def after_sag(seconds: float) -> Witness:
    """A table that sagged by 10 % for 5 s, so long after it had its speed again."""
    witness = Witness(settings(), Habits())
    for report in range(int((60.0 + seconds) / 0.05)):
        at_s = 0.05 * report
        witness.report(at_s, 30.0, 27.0 if 55.0 <= at_s < 60.0 else 30.0, 40.0, "steady")
        if report % 10 == 0 and at_s < 59.0:
            witness.load.target_passed(True)
    return witness


@pytest.mark.parametrize(
    ("jump", "seconds", "asked"), [(0.03, 1.5, False), (0.03, 2.5, True), (0.3, 0.5, True)]
)
def test_a_small_rise_counts_only_while_the_table_holds_its_speed(
    jump: float, seconds: float, asked: bool
) -> None:
    """A table that gathers speed again may show a rise as small as 15 %: for two seconds it is nothing."""
    assert (after_sag(seconds).rise(jump, 1.2) is not None) is asked


def test_without_load_there_is_no_witness() -> None:
    """A load that is not measured says nothing of a stop."""
    witness = after_sag(5.0)
    witness.report(66.0, 30.0, 30.0, None, "steady")
    assert witness.rise(0.3, 1.2) is None
