"""STOP: how soon, how surely, and that nothing gets in front of it. The real controller, stepped time."""

from __future__ import annotations

import pytest

from benchctl.link import wire_words
from benchctl.link.stop_call import STOP_COPIES, StopCall
from benchctl.models.readings import Running
from firmware_protocol import codec, frames, messages, reasons
from tests.link.ideal_board import DeafCable, IdealBoard, Session


class Watched(DeafCable):
    """Keeps what is written, and when."""

    def __init__(self, board: IdealBoard) -> None:
        super().__init__(board)
        self.board = board
        self.written: list[tuple[float, tuple[object, ...]]] = []

    def write(self, data: bytes) -> None:
        super().write(data)
        for payload in frames.FrameReader().feed(data):
            message = codec.decode(payload)[1]
            assert message is not None
            self.written.append((self.board.now_s, message))

    def stops(self) -> list[float]:
        return [at_s for at_s, message in self.written if isinstance(message, messages.Stop)]


def turning(board: IdealBoard | None = None) -> tuple[Session, Watched]:
    board = board or IdealBoard()
    cable = Watched(board)
    session = Session(board, transport=cable)
    session.start(20.0, 4.0)
    return session, cable


def test_stop_leaves_within_the_call() -> None:
    """Three STOP frames are on the cable when the call returns; no poll is needed."""
    session, cable = turning()
    session.link.stop(session.now_s, False, "person")
    assert cable.stops() == pytest.approx([session.now_s] * 3)


def test_the_board_ramps_within_a_control_step() -> None:
    """On a sound cable the ramp begins within 20 ms of the call (1 ms of cable, one step of 10 ms)."""
    session, _ = turning()
    called_s = session.now_s
    session.link.stop(called_s, False, "person")
    session.live(0.1)
    assert session.board.slowing_at_s is not None
    assert session.board.slowing_at_s - called_s <= 0.02


def test_stop_is_sent_until_obeyed_and_no_longer() -> None:
    """Sent again every 50 ms or so while the status says that the table is driven; then no more."""
    session, cable = turning()
    session.board.silent = True
    session.board.cable.faults.lose = 1.0
    session.link.stop(session.now_s, False, "person")
    session.live(0.4)
    later = cable.stops()[3:]
    assert 6 <= len(later) <= 8
    session.board.cable.faults.lose = 0.0
    session.board.silent = False
    session.live(0.5)
    sent = len(cable.stops())
    session.live(1.0)
    assert session.board.state in ("slowing", "tripped", "disarmed")
    assert len(cable.stops()) == sent


def test_an_old_status_does_not_end_the_repeats() -> None:
    """A status that was under way when STOP was called is no proof that it was obeyed."""
    session, cable = turning()
    session.board.controller.motion.state = messages.DISARMED
    session.live(0.1)
    session.board.controller.motion.state = messages.RUNNING
    session.board.cable.faults.lose = 1.0
    session.link.stop(session.now_s, False, "person")
    session.live(0.2)
    assert len(cable.stops()) > 3


@pytest.mark.parametrize(("lose", "within_s"), [(0.05, 0.1), (0.3, 0.2), (0.6, 0.5)])
def test_stop_gets_through_a_bad_cable(lose: float, within_s: float) -> None:
    """With 5, 30 or 60 % of frames lost each way, all of 40 STOPs are obeyed within 0.1, 0.2 or 0.5 s.

    Renewals go on, so that it is the STOP that stops: the reason says so.
    """
    for seed in range(40):
        board = IdealBoard(seed=seed)
        session, _ = turning(board)
        board.cable.faults.lose = lose
        called_s = session.now_s
        session.link.stop(called_s, False, "person")
        session.live(within_s)
        assert board.slowing_at_s is not None, seed
        assert board.controller.motion.reason == reasons.HOST_STOP, seed


def test_stop_goes_before_all_orders() -> None:
    """Orders that wait or were not answered are dropped by a STOP: none of them acts after it."""
    session, cable = turning()
    session.board.cable.faults.lose = 1.0
    session.link.set_speed(session.now_s, 40.0)
    session.step()
    session.link.call(session.now_s, "end")
    session.board.cable.faults.lose = 0.0
    session.link.stop(session.now_s, True, "planned_end")
    session.live(6.0)
    after = [m for at_s, m in cable.written if at_s > cable.stops()[0] and not isinstance(m, messages.Stop)]
    assert not any(isinstance(m, messages.SetSpeed | messages.Call | messages.Run) for m in after)
    assert session.board.state == "disarmed"


def test_a_run_held_back_on_the_way_never_acts_after_a_stop() -> None:
    """A RUN that the cable holds back for 2 s arrives after the STOP and a new arming, and is refused."""
    session = Session()
    session.greet()
    session.live(1.5)
    session.link.arm(session.now_s, 45.0)
    session.live(0.7)
    faults = session.board.cable.faults
    faults.late, faults.late_s = 1.0, 2.0
    session.link.run(session.now_s, 10.0, 900.0, 960.0, 90.0)
    session.step()
    faults.late = 0.0
    session.link.stop(session.now_s, False, "person")
    session.live(0.2)
    session.link.arm(session.now_s, 45.0)
    session.live(3.0)
    assert session.board.state == "armed"
    assert session.all(Running) == []


def test_stop_works_before_any_greeting() -> None:
    """STOP needs no owner, no epoch and no handshake."""
    first, _ = turning()
    stranger = Session(first.board, owner=99)
    stranger.link.stop(first.now_s, False, "person")
    first.live(0.1)
    assert first.board.state == "slowing"


@pytest.mark.parametrize(
    "reason",
    ["person", "planned_end", "lap_stalled", "lap_off", "dry_lap", "link_lost", "disk_full", "program_error"],
)
def test_the_hosts_reasons_reach_the_board(reason: str) -> None:
    """What the host stops for stands in the board's status, so that another host can read it there."""
    session, _ = turning()
    session.link.stop(session.now_s, reason == "planned_end", reason)
    session.live(0.3)
    status = session.link.last_status
    assert status is not None
    said = {"person": "host_stop", "lap_off": "lap_off_post"}.get(reason, reason)
    assert status.reason == said
    assert status.stop_kind == ("planned" if reason == "planned_end" else "controlled_then_off")


def test_an_unnamed_reason_is_a_fault() -> None:
    """A reason that the wire has no number for goes as a fault of the host: a reset is asked for."""
    assert wire_words.stop_reason("no_such_reason") == reasons.HOST_FAULT
    assert reasons.latches(reasons.HOST_FAULT)


def test_without_the_host_the_board_stops() -> None:
    """No renewal, no STOP: the table slows by itself 0.6 to 0.7 s after the last renewal."""
    session, _ = turning()
    session.renewing = False
    last_s = session.now_s
    session.live(1.0)
    assert session.board.slowing_at_s is not None
    assert 0.4 <= session.board.slowing_at_s - last_s <= 0.72


def test_renewals_carry_the_table_through_loss() -> None:
    """At 5 % lost frames each way (1 % is promised) five minutes pass without a stop."""
    board = IdealBoard(seed=11)
    session, _ = turning(board)
    board.cable.faults.lose = 0.05
    session.step_s = 0.05
    session.live(300.0)
    assert session.board.state == "running"


def test_a_renewal_is_sent_twice_but_not_after_stop() -> None:
    """Each renewal goes once more at the next poll, for loss; a STOP, or a lost board, ends that."""
    session, cable = turning()
    session.renewing = False

    def renewals() -> int:
        return sum(isinstance(message, messages.Renew) for _, message in cable.written)

    before = renewals()
    session.link.renew(session.now_s)
    session.live(0.2)
    assert renewals() == before + 2
    session.link.renew(session.now_s)
    session.link.stop(session.now_s, False, "person")
    session.live(0.2)
    assert renewals() == before + 3
    session.board.silent = True
    session.live(1.0)
    assert session.link.lost
    session.link.renew(session.now_s)
    session.live(0.2)
    assert renewals() == before + 3


def test_the_first_status_after_a_stop_may_be_older_than_it() -> None:
    """A status that was on its way says nothing of the STOP: it goes on until a second one says rest."""
    call, message = StopCall(), ("stop",)
    assert call.begin(message, 1.0) == [message] * STOP_COPIES
    call.status(messages.DISARMED, certain=True)
    assert call.due(1.06) == [message]
    call.status(messages.SLOWING, certain=True)
    assert call.due(1.2) == []


def test_a_board_of_another_version_ends_no_stop() -> None:
    """What such a board calls its state may mean anything: STOP goes on."""
    call, message = StopCall(), ("stop",)
    call.begin(message, 1.0)
    for count in range(1, 20):
        call.status(messages.DISARMED, certain=False)
        assert call.due(1.0 + 0.06 * count) == [message]
