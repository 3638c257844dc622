"""What is old is not shown: a value stands on the screen only as long as it is the bench's own."""

from __future__ import annotations

import pytest

from benchctl.session.view import STALE_S
from tests.session.driven import Driven


def test_a_silent_board_leaves_no_values_behind(bench: Driven, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is heard any more: within a second no speed, load or state of the board is shown."""
    bench.start()
    bench.until(lambda: bench.shot.turning)
    assert bench.shot.board_state == "running"
    monkeypatch.setattr(bench.plant.cable, "board_writes", lambda data: None)
    bench.go(0.9)
    shot = bench.shot
    assert (shot.set_rpm, shot.table_rpm, shot.load_percent) == (None, None, None)
    assert (shot.turning, shot.board_state, shot.link) == (False, "unknown", "lost")


@pytest.mark.parametrize("age_s", [STALE_S - 0.05, STALE_S + 0.05])
def test_words_without_a_new_status_keep_no_value_alive(bench: Driven, age_s: float) -> None:
    """The link is not lost, yet the newest status is half a second old: its values are not shown."""
    bench.start()
    bench.until(lambda: bench.shot.turning)
    link = bench.parts.link
    link.last_status_at_s = bench.runner.at.now_s - age_s
    assert not link.lost
    assert (bench.shot.table_rpm is None) == (age_s > STALE_S)
    assert (bench.shot.board_state == "unknown") == (age_s > STALE_S)
