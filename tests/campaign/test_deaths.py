"""Programs die at drawn instants over a pseudo-terminal: the table rests in time, and no record is lost."""

from __future__ import annotations

import os

import pytest

from tests.campaign.deaths import Told, play_deaths

pytestmark = [
    pytest.mark.live,
    pytest.mark.skipif(os.name == "nt", reason="a pseudo-terminal is needed, which Windows has not"),
]


def check(told: list[Told], count: int) -> None:
    """Nothing wrong, and enough of the deaths came while the table turned."""
    assert not [what for one in told for what in one.wrong]
    assert sum(one.deaths for one in told) == count
    assert sum(len(one.rested) for one in told) > 0.25 * count


@pytest.mark.timeout(600)
def test_fifty_programs_that_die() -> None:
    """After 50 of SIGKILL, SIGSTOP, SIGTERM and SIGHUP the table rests within 0.6 s + w/2.0 + 0.2 s each.

    Nothing moves after that, a program that is woken starts nothing, and each segment that was begun is in
    the logbook and closed there.
    """
    check(list(play_deaths(50, at_once=10)), 50)


@pytest.mark.long
@pytest.mark.timeout(3 * 3600)
def test_a_thousand_programs_that_die() -> None:
    """The same for 1,000."""
    check(list(play_deaths(1000, at_once=10, first_seed=1000)), 1000)
