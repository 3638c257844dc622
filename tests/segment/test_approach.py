"""When the table may go faster."""

from __future__ import annotations

import pytest

from benchctl.lapwatch import Verdict
from benchctl.segment.approach import Approach, reached


def turn(approach: Approach, state: str, ratios: list[float]) -> None:
    """Play whole lap turns at the given ratios, looked at ten times a turn."""
    lap = table = 0.0
    for ratio in ratios:
        for _ in range(10):
            lap += 0.1
            table += 0.1 / ratio
            approach.see(Verdict(state=state), lap, table)  # type: ignore[arg-type]


def test_two_turns_in_a_row_that_agree_are_true() -> None:
    """One turn is not enough; two that agree within 15 % are (common practice, no source)."""
    approach = Approach()
    turn(approach, "settling", [0.9, 0.9])
    assert not approach.true
    approach.restart()
    turn(approach, "settling", [0.9, 0.92, 0.91])
    assert approach.true


def test_turns_that_differ_begin_the_count_anew() -> None:
    """A turn that differs by more than 15 % from the one before counts as none."""
    approach = Approach()
    turn(approach, "settling", [0.9, 0.7, 0.9, 0.7, 0.9])
    assert approach.true_turns == 0


@pytest.mark.parametrize("state", ["waiting", "jerky", "slowing", "stalled", "no_signal"])
def test_no_turn_is_true_in_a_bad_state(state: str) -> None:
    """While the watcher calls the lap jerky, slowing, stalled or unseen, no turn counts."""
    approach = Approach()
    turn(approach, state, [0.9] * 6)
    assert not approach.true


def test_a_speed_is_reached_within_four_per_cent() -> None:
    """Within 4 %, or 0.6 rpm at slow speeds."""
    assert reached(25.1, 26.0)
    assert not reached(24.5, 26.0)
    assert reached(5.5, 6.0)
    assert not reached(0.0, 6.0)
