"""The link on a cable that damages, loses, doubles, delays or is out; against the real controller."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchctl.models.readings import (
    Armed,
    CaptureDamage,
    Hello,
    LapPulse,
    Lost,
    PedalPress,
    Running,
    Status,
    TablePulse,
)
from firmware_protocol import codec, frames, messages
from tests.link.ideal_board import DeafCable, IdealBoard, Session, refusals


def test_loss_by_silence() -> None:
    """No status for half a second is a loss, told once; the first status after it ends it."""
    session = Session()
    session.live(1.0)
    session.board.silent = True
    took = session.until(lambda: session.link.lost, 1.0)
    assert 0.4 <= took <= 0.6, "half a second, and a status period"
    session.live(1.0)
    assert len(session.all(Lost)) == 1
    session.board.silent = False
    session.live(0.3)
    assert not session.link.lost


def test_loss_by_the_port() -> None:
    """A port that fails is a loss at once, told once, and nothing raises however often it is used."""
    session = Session()
    session.start(10.0, 1.0)
    session.board.cable.pull_out()
    session.step()
    assert isinstance(session.heard[-1], Lost)
    session.link.stop(session.now_s, False, "link_lost")
    session.link.renew(session.now_s)
    session.live(1.0)
    assert len(session.all(Lost)) == 1
    assert session.board.state != "running"


def test_a_port_that_takes_no_bytes_is_lost() -> None:
    """A cable on which only writing fails is a loss too: a table that cannot be told to stop."""
    board = IdealBoard()
    cable = DeafCable(board)
    session = Session(board, transport=cable)
    session.start(10.0, 1.0)
    cable.deaf = True
    session.link.renew(session.now_s)
    session.step()
    assert isinstance(session.heard[-1], Lost)


def test_a_cable_that_comes_back_restarts_nothing() -> None:
    """Plugged in again: greeted anew, the stop stays, orders of before are gone, nothing turns."""
    session = Session()
    session.start(10.0, 3.0)
    session.board.cable.pull_out()
    session.link.set_speed(session.now_s, 30.0)
    session.live(3.0)
    session.board.cable.unplugged = False
    session.live(3.0)
    assert not session.link.lost
    assert session.link.owned
    assert len(session.all(Hello)) == 2
    status = session.link.last_status
    assert status is not None
    assert (status.board_state, status.reason, status.set_rpm) == ("tripped", "permit_expired", 0.0)


def test_an_order_of_before_a_short_loss_is_gone() -> None:
    """The cable is out for a moment only: what was asked for just before is not sent once it is back."""
    session = Session()
    session.greet()
    session.live(1.5)
    session.board.cable.pull_out()
    session.link.arm(session.now_s, 30.0)
    session.live(0.3)
    session.board.cable.unplugged = False
    session.live(1.0)
    assert session.link.owned
    assert session.board.state == "disarmed"


def test_a_restart_of_the_board_is_told() -> None:
    """A board that lost its supply: a new Hello with a grown boot count, its new clock, no pedal press."""
    session = Session()
    session.start(10.0, 2.0)
    session.board.pedal = True
    session.live(0.2)
    session.board.pedal = False
    session.live(0.3)
    session.board.restart()
    session.live(1.0)
    hello = session.all(Hello)[-1]
    assert isinstance(hello, Hello)
    assert (hello.boot_count, hello.reset_cause) == (2, "brown_out")
    assert session.link.last_status is not None
    assert session.link.last_status.at_s < 2.0
    assert len(session.all(PedalPress)) == 1
    assert session.link.owned
    assert session.board.state == "disarmed"


def test_a_restart_is_noticed_without_its_first_words() -> None:
    """All boot frames lost: the clock that lies far back tells that the board began anew."""
    session = Session(IdealBoard(start_ms=60_000))
    session.greet()
    session.board.silent = True
    session.board.restart()
    session.live(0.3)
    session.board.controller._reports._boots_left = 0
    session.board.silent = False
    session.live(1.0)
    assert [r.boot_count for r in session.heard if isinstance(r, Hello)] == [1, 2]
    assert session.link.owned


def test_a_young_boards_restart_is_noticed_by_its_count_of_starts() -> None:
    """A board that restarts seconds after its start, its first words lost: its edges are taken from anew."""
    session = Session(IdealBoard(start_ms=0))
    session.start(40.0, 3.0)
    assert session.now_s < 9.0
    session.board.silent = True
    session.board.restart()
    session.live(0.3)
    session.board.controller._reports._boots_left = 0
    session.board.silent = False
    session.renewing = False
    session.live(2.0)
    before = len(session.all(TablePulse))
    session.start(10.0, 3.0)
    assert len(session.all(TablePulse)) - before == pytest.approx(session.board.turned * 24, abs=2)


def test_a_restart_voids_what_was_asked_before() -> None:
    """Orders that wait when the board restarts are not sent to it once it is greeted anew."""
    session = Session()
    session.greet()
    session.live(1.5)
    session.link.call(session.now_s, "wet_down")
    session.link.arm(session.now_s, 30.0)
    session.board.restart()
    session.live(2.0)
    assert session.link.owned
    assert "arm" not in [what for what, _ in refusals(session)]
    assert session.board.state == "disarmed"


def test_damage_is_counted_and_costs_itself_only() -> None:
    """Noise on the cable is told as damaged frames; what is whole still arrives."""
    board = IdealBoard(seed=3)
    session = Session(board)
    session.greet()
    board.cable.faults.flip = 0.002
    session.live(20.0)
    told = sum(r.frames for r in session.heard if isinstance(r, CaptureDamage))
    assert told == session.link.frames_damaged > 3
    assert len(session.all(Status)) > 150
    assert not session.link.lost


def test_unknown_words_are_counted_and_stop_nothing() -> None:
    """A kind of message not known on this side, or one whose body does not fit, is passed over."""
    session = Session()
    session.start(10.0, 0.5)
    for payload in (
        codec.encode(messages.Ping(0), 0, 0, 0)[:1] + bytes([200]) + bytes(8),
        codec.encode(messages.Boot(0, 0, 0))[:-1],
    ):
        session.board.cable.board_writes(frames.encode(payload))
    session.live(0.5)
    assert session.link.unknown_messages == 2
    assert session.board.state == "running"
    assert not session.link.lost


def test_readings_come_once_and_in_order_on_a_bad_cable() -> None:
    """Frames doubled and held back by up to 0.3 s: each sensor's pulses rise strictly, so do the status."""
    board = IdealBoard(seed=2)
    session = Session(board)
    session.start(20.0, 3.0)
    board.cable.faults.double, board.cable.faults.late, board.cable.faults.late_s = 0.3, 0.3, 0.3
    session.live(20.0)
    for kind in (TablePulse, LapPulse, Status):
        times = [reading.at_s for reading in session.all(kind)]
        assert len(times) > 50
        assert all(a < b for a, b in pairwise(times))


def test_lost_edges_are_counted() -> None:
    """Batches of edges that never came are known by their running numbers."""
    session = Session(IdealBoard(seed=4))
    session.start(20.0, 3.0)
    session.board.silent = True
    session.live(0.45)
    session.board.silent = False
    session.live(1.0)
    seen = len(session.all(TablePulse)) + len(session.all(LapPulse))
    told = session.board.controller.motion.table_line.count + session.board.controller.motion.lap.count
    assert session.link.edges_missed > 0
    assert seen + session.link.edges_missed == pytest.approx(told, abs=3)


def test_run_answered_late_is_not_repeated() -> None:
    """A cable that swallows RUN for half a second: refused as unanswered, and no RUN acts afterwards."""
    session = Session()
    session.greet()
    session.live(1.5)
    session.link.arm(session.now_s, 45.0)
    session.live(0.7)
    session.board.cable.faults.silent = True
    session.link.run(session.now_s, 10.0, 900.0, 960.0, 90.0)
    session.live(0.4)
    assert ("run", "no_answer") in refusals(session)
    session.board.cable.faults.silent = False
    session.live(2.0)
    assert session.board.state == "armed"
    assert session.all(Running) == []


def test_orders_reach_the_board_through_loss_and_act_once() -> None:
    """At 20 % lost frames each way every arming is answered once, and the board armed once for each."""
    board = IdealBoard(seed=9)
    session = Session(board)
    session.greet()
    session.live(1.5)
    board.cable.faults.lose = 0.2
    epoch = board.controller._desk.epoch
    for number in range(1, 11):
        session.link.arm(session.now_s, 45.0)
        session.live(0.6)
        session.link.stop(session.now_s, True, "person")
        session.live(0.6)
        assert len(session.all(Armed)) == number
        assert board.controller._desk.epoch == epoch + number
    assert refusals(session) == []


def test_a_late_frame_of_an_older_epoch_changes_nothing() -> None:
    """A status held back from before the arming does not make the next order one of an old epoch."""
    session = Session()
    session.greet()
    session.live(1.5)
    still = messages.Status(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    kept = codec.encode(still, session.board.controller._desk.epoch, 0, 6000)
    session.link.arm(session.now_s, 45.0)
    session.live(0.7)
    session.board.cable.board_writes(frames.encode(kept))
    session.link.run(session.now_s, 10.0, 900.0, 960.0, 90.0)
    session.live(0.2)
    assert len(session.all(Running)) == 1
    assert refusals(session) == []
