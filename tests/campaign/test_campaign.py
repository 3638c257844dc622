"""Seeded faults on the whole bench: rest in time, no start by itself, no record lost."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.campaign.draws import FAULTS, Fault, draw
from tests.campaign.expected import EXPLAINS
from tests.campaign.many import Told, play_seeds, summary

IN_CI = range(1000)
LONG = range(100_000, 110_000)


def check(told: Iterable[Told]) -> list[Told]:
    """All of them, once none has a broken rule; otherwise the commands that play the broken ones again."""
    played = list(told)
    broken = [
        f"python -m tests.campaign.replay {one.seed}   # {breach}"
        for one in played
        for breach in one.breaches
    ]
    assert not broken, "\n".join(["rules were broken; play them again with", *broken])
    return played


@pytest.mark.timeout(1500)
def test_a_thousand_seeds_of_overlapping_faults() -> None:
    """1,000 drawn benches with 1 to 5 overlapping faults each break no rule of the witness or the logbook."""
    told = check(play_seeds(IN_CI))
    assert sum(len(one.stops) for one in told) > 900, summary(told)


@pytest.mark.long
@pytest.mark.timeout(24 * 3600)
def test_ten_thousand_seeds_of_overlapping_faults() -> None:
    """The same for 10,000 seeds that the ordinary run does not play."""
    print(summary(check(play_seeds(LONG))))


def test_every_fault_is_drawn_and_explained() -> None:
    """A thousand seeds draw every fault that the bench knows; each has causes that it may be told under."""
    drawn = {fault.name for seed in IN_CI for fault in draw(seed).faults}
    assert drawn == set(FAULTS)
    assert set(FAULTS) <= set(EXPLAINS)


def test_a_seed_is_one_case() -> None:
    """The same seed draws the same case; cases have one to five faults, some of them at the same time."""
    assert draw(17) == draw(17)
    cases = [draw(seed) for seed in range(300)]
    assert {len(case.faults) for case in cases} == {1, 2, 3, 4, 5}
    assert any(_overlap(case.faults) for case in cases)


def _overlap(faults: tuple[Fault, ...]) -> bool:
    ends = [fault.at_s + (fault.lasts_s or 1e9) for fault in faults]
    return any(later.at_s < end for end, later in zip(ends, faults[1:], strict=False))
