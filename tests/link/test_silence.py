"""What counts as silence of the board: half a second of listening, not one that was slept through."""

from __future__ import annotations

import pytest

from benchctl.link.silence import LONGEST_PAUSE_S, SILENT_S
from benchctl.models.readings import Lost
from tests.link.ideal_board import IdealBoard, Session


def held_up(session: Session, seconds: float) -> None:
    """The board lives on while this program stands still."""
    session.now_s += seconds
    session.board.advance(session.now_s)


@pytest.mark.parametrize("pause_s", [0.6, 3.0, 3600.0])
def test_a_program_that_was_held_up_claims_no_silence(pause_s: float) -> None:
    """Suspended, with all that was said meanwhile lost, it hears the next status and reports no loss."""
    session = Session()
    session.greet()
    session.board.silent = True
    held_up(session, pause_s)
    session.board.silent = False
    session.live(1.0)
    assert session.all(Lost) == []
    assert not session.link.lost


def test_what_was_said_during_a_pause_counts() -> None:
    """With the board's words waiting in the buffer, a program that was held up has missed nothing."""
    session = Session()
    session.greet()
    for _ in range(5):
        held_up(session, 2.0)
        session.step()
    assert session.all(Lost) == []


def test_a_silent_board_is_lost_however_the_program_paused() -> None:
    """Half a second of listening after a pause without a word is a loss; it is told once."""
    session = Session()
    session.greet()
    session.board.silent = True
    held_up(session, 10.0)
    took_s = session.until(lambda: session.link.lost, 2.0)
    assert SILENT_S - LONGEST_PAUSE_S - 0.1 <= took_s <= SILENT_S + 0.1
    session.live(2.0)
    assert len(session.all(Lost)) == 1


@pytest.mark.parametrize("step_s", [0.01, 0.03, 0.15, 0.3])
def test_a_steady_listener_hears_silence_after_half_a_second(step_s: float) -> None:
    """Polling at its usual pace it notices within half a second and two steps, at a slow one later."""
    session = Session(IdealBoard(), step_s=step_s)
    session.greet()
    session.board.silent = True
    took_s = session.until(lambda: session.link.lost, 3.0)
    assert took_s <= SILENT_S * max(1.0, step_s / LONGEST_PAUSE_S) + 2.0 * step_s + 0.11
