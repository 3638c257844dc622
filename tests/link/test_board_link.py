"""The link against the real controller on an ideal table, in stepped time: no sleeps, no mocks."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from benchctl.link.board import BoardLink
from benchctl.models.readings import (
    Armed,
    Hello,
    LapPulse,
    PedalPress,
    Reading,
    Running,
    Status,
    TablePulse,
)
from firmware_protocol import codec, frames, messages, reasons
from firmware_protocol.settings import DEFAULTS, with_value
from tests.link.ideal_board import OWNER, DeafCable, IdealBoard, Session, refusals

WRAP_MS = 1 << 32


def say(session: Session, message: tuple[object, ...], t_ms: int = 0, version: int | None = None) -> None:
    """Put a frame of ours on the cable, as if the board had sent it."""
    payload = bytearray(codec.encode(message, session.board.controller._desk.epoch, 0, t_ms))
    if version is not None:
        payload[0] = version
    session.board.cable.board_writes(frames.encode(bytes(payload)))


class Tee(DeafCable):
    """Keeps what was read last."""

    heard = b""

    def read(self) -> bytes:
        self.heard = self._end.read()
        return self.heard


class Ear:
    """Hears what it is given; keeps what is sent."""

    def __init__(self) -> None:
        self.heard = self.sent = b""

    def read(self) -> bytes:
        return self.heard

    def write(self, data: bytes) -> None:
        self.sent += data

    def close(self) -> None:
        pass


# Getting to know the board


def test_it_greets_by_itself() -> None:
    """Without being asked the link finds out who the board is, what it has stored, and becomes its owner."""
    session = Session()
    session.greet()
    hello = session.all(Hello)[0]
    assert isinstance(hello, Hello)
    assert (hello.board_id, hello.firmware_id, hello.protocol) == ("ideal", "test 1", (1, 0))
    assert hello.schema_matches
    assert (hello.boot_count, hello.reset_cause, hello.ceiling_rpm) == (1, "power_on", 45.0)
    assert session.link.settings == DEFAULTS
    assert session.link.targets == (12, 24)
    assert not session.link.monitor_only
    assert session.now_s < 0.2


def test_settings_are_asked_for_until_they_come() -> None:
    """Half of all frames lost: the greeting and the settings still arrive."""
    board = IdealBoard(seed=5)
    board.cable.faults.lose = 0.5
    session = Session(board)
    session.greet()
    assert session.link.settings == DEFAULTS


def test_settings_outside_their_limits_are_not_believed() -> None:
    """A board that says 0 targets a turn is not divided by: the settings stay unknown, arming is refused."""
    session = Session()
    session.board.silent = True
    session.link.poll(0.0)
    for number, t_ms in enumerate((6000, 6100)):
        say(session, DEFAULTS._replace(table_edges_per_turn=0, lap_edges_per_turn=number), t_ms)
        say(session, messages.Status(0, 0, 0, 0, 0, 0, 0, 0, 50, 50, 0, 0, 0, 0, 0, 0), t_ms + 50)
    session.live(0.3)
    assert len(session.all(Status)) == 2
    assert session.link.settings is None


def test_the_clock_offset_is_known_to_half_a_round_trip() -> None:
    """Board time minus host time, kept up once a second, is right within half of the quickest exchange."""
    session = Session(IdealBoard(latency_s=0.004, start_ms=123_000))
    session.live(5.0)
    assert session.link.clock_offset_s == pytest.approx(123.0, abs=0.02)


def test_another_version_may_be_watched_and_stopped_only() -> None:
    """A board of another major version: its identity and status are shown, orders refused here, STOP sent."""
    session = Session()
    session.greet()
    identity = messages.Identity(messages.MAGIC, 2, 0, 99, 1, 0, 2, 0, 45000, 600, "new", "board")
    say(session, identity, 6000, version=2)
    session.live(0.1)
    assert session.link.monitor_only
    assert ("hello", "version_differs") in refusals(session)
    session.link.arm(session.now_s, 30.0)
    session.link.run(session.now_s, 10.0, 1.0, 2.0, 1.0)
    session.live(0.1)
    assert refusals(session)[-2:] == [("arm", "version_differs"), ("run", "version_differs")]
    assert session.board.state == "disarmed"
    session.board.controller.motion.state = messages.ARMED
    session.link.stop(session.now_s, False, "person")
    session.until(lambda: session.board.state == "disarmed", 0.1)
    status = messages.Status(1, 0, 0, 0, 7000, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    session.board.silent = True
    say(session, status, 60_000, version=2)
    session.live(0.1)
    assert session.link.last_status is not None
    assert session.link.last_status.set_rpm == 7.0


def test_other_tables_may_be_watched_and_stopped_only() -> None:
    """The same version with another schema hash is watched and stopped, not started."""
    session = Session()
    identity = messages.Identity(messages.MAGIC, 1, 1, 99, 1, 0, 2, 0, 45000, 600, "new", "board")
    say(session, identity, 6000)
    session.live(0.05)
    session.link.arm(session.now_s, 30.0)
    session.live(0.05)
    assert session.link.monitor_only
    assert refusals(session) == [("hello", "schema_differs"), ("arm", "schema_differs")]


def test_a_second_program_is_refused_once_and_may_stop() -> None:
    """Two programs on one cable: the second is told once that the board has an owner; its STOP works.

    Both hear all that the board says; neither takes an answer for its own that is the other's.
    """
    session = Session()
    session.start(10.0, 1.0)
    other = Session(session.board, owner=OWNER + 1)
    other.now_s = session.now_s
    for count in range(60):
        if count == 20:
            other.link.arm(session.now_s, 45.0)
        session.now_s += 0.03
        other.now_s = session.now_s
        session.board.advance(session.now_s)
        heard = session.board.cable.to_host.take(session.now_s)
        for end in (session, other):
            session.board.cable.to_host.put(heard, session.now_s - 0.001)
            end.heard += end.link.poll(session.now_s)
        session.link.renew(session.now_s)
    assert refusals(other) == [("hello", "owned_by_another"), ("arm", "owned_by_another")]
    assert refusals(session) == []
    assert session.board.state == "running"
    other.link.stop(session.now_s, False, "person")
    session.until(lambda: session.board.state != "running", 0.1)


def test_an_owner_that_was_replaced_greets_anew() -> None:
    """Another program took the idle board over and fell silent: an order is refused once, then it is ours."""
    session = Session()
    session.greet()
    session.live(2.5)
    controller = session.board.controller
    hello = messages.Hello(messages.MAGIC, OWNER + 1, messages.VERSION, messages.MINOR, codec.SCHEMA_HASH)
    controller.receive(codec.encode(hello), session.board.start_ms + round(session.board.now_s * 1000.0))
    controller.take_payloads()  # what the board says to the other program
    assert controller._desk.token == OWNER + 1
    session.link.arm(session.now_s, 30.0)
    session.live(3.0)
    assert refusals(session) == [("arm", "not_owner"), ("hello", "owned_by_another")]
    assert controller._desk.token == OWNER
    session.link.arm(session.now_s, 30.0)
    session.until(lambda: session.board.state == "armed", 1.0)


# A segment


def test_a_segment_in_readings() -> None:
    """Armed, Running, status with rising speed, both sensors' pulses, then rest: each reading in its turn."""
    session = Session()
    session.start(10.0, 6.0)
    session.link.set_speed(session.now_s, 20.0)
    session.live(6.0)
    status = session.link.last_status
    assert status is not None
    assert (status.board_state, status.enabled, status.set_rpm) == ("running", True, 20.0)
    assert status.table_rpm == pytest.approx(20.0, rel=0.02)
    assert status.load_percent == 10.0
    assert status.table_turns == pytest.approx(session.board.turned, abs=0.1)
    assert status.lap_turns == pytest.approx(session.board.turned, abs=0.15)
    session.link.stop(session.now_s, True, "planned_end")
    session.until(lambda: session.board.state == "disarmed", 5.0)
    session.live(0.3)
    last = session.link.last_status
    assert last is not None
    assert (last.board_state, last.reason, last.stop_kind) == ("disarmed", "planned_end", "planned")
    assert [type(r) for r in session.heard if isinstance(r, Armed | Running)] == [Armed, Running]
    table, lap = len(session.all(TablePulse)), len(session.all(LapPulse))
    assert (table, lap) == (math.floor(session.board.turned * 24), math.floor(session.board.turned * 12))
    assert refusals(session) == []
    assert session.link.edges_missed == 0


def test_an_order_is_new_however_much_else_was_sent_before() -> None:
    """Renewals and pings use up no numbers of orders: after 33,000 of them the board still takes a speed."""
    session = Session()
    session.start(10.0, 0.5)
    session.link.set_speed(session.now_s, 12.0)
    session.live(0.3)
    for _ in range(33_000):
        session.link.renew(session.now_s)
    session.link.set_speed(session.now_s, 20.0)
    session.live(0.3)
    assert refusals(session) == []
    assert session.link.last_status is not None
    assert session.link.last_status.target_rpm == 20.0


@pytest.mark.parametrize("start_ms", [5000, WRAP_MS - 9000, 4_294_000], ids=["young", "ms wrap", "us wrap"])
def test_board_time_runs_on_across_the_wraps(start_ms: int) -> None:
    """Pulses and status are in order, in seconds, true to 2 us, also where the wire's counters wrap."""
    session = Session(IdealBoard(start_ms=start_ms))
    session.start(20.0, 10.0)
    for kind in (TablePulse, LapPulse, Status):
        times = [reading.at_s for reading in session.all(kind)]
        assert all(a < b for a, b in pairwise(times))
    pulses = [reading.at_s for reading in session.all(TablePulse)][-24:]
    assert pulses[-1] - pulses[0] == pytest.approx(23 / 24 * 3.0, rel=1e-3)
    assert pulses[-1] == pytest.approx(start_ms / 1000.0 + session.board.now_s, abs=0.2)


def test_the_pedal_is_told_once_a_press() -> None:
    """A short press of the pedal is one reading."""
    session = Session()
    session.start(10.0, 1.0)
    session.board.pedal = True
    session.live(0.2)
    session.board.pedal = False
    session.live(1.0)
    assert len(session.all(PedalPress)) == 1


def test_a_fault_is_reset_by_its_own_number() -> None:
    """A fault that the board found is named in the status, and cleared by reset once its cause is gone."""
    session = Session()
    session.start(10.0, 2.0)
    session.board.estop = True
    session.live(2.0)
    assert session.link.last_status is not None
    tripped = session.link.last_status
    assert (tripped.board_state, tripped.reason, tripped.stop_kind) == ("tripped", "estop_open", "power_off")
    session.link.reset(session.now_s)
    session.live(0.3)
    assert refusals(session) == [("reset", "estop_is_open")]
    session.board.estop = False
    session.live(3.0)
    session.link.reset(session.now_s)
    session.until(lambda: session.board.state == "disarmed", 0.3)


@pytest.mark.parametrize("number", [row[0] for row in reasons.REASONS if row[3]])
def test_every_latched_fault_can_be_reset(number: int) -> None:
    """Reset quotes the very number of the status, so a board's fault is never mixed up with a host's."""
    session = Session()
    session.greet()
    session.live(1.5)
    motion = session.board.controller.motion
    motion.state, motion.reason = messages.TRIPPED, number
    session.live(0.3)
    session.link.reset(session.now_s)
    session.until(lambda: session.board.state == "disarmed", 0.3)
    assert refusals(session) == []


def test_a_setting_is_written_with_the_old_value() -> None:
    """A setting is changed when the old value is quoted right, and read back; refused when it is not."""
    session = Session()
    session.greet()
    session.live(1.5)
    session.link.write_setting(session.now_s, 3, 45000, 40000)
    session.live(0.3)
    assert session.link.settings == with_value(DEFAULTS, 3, 40000)
    session.link.write_setting(session.now_s, 3, 45000, 50000)
    session.live(0.3)
    assert refusals(session) == [("write_setting", "old_value_differs")]


@pytest.mark.parametrize("rpm", [math.nan, math.inf, -math.inf, -1.0, 1e9])
def test_what_no_field_can_hold_is_refused_here(rpm: float) -> None:
    """NaN, infinity and numbers out of every range never reach the wire and raise nothing."""
    session = Session()
    session.start(10.0, 0.5)
    session.link.set_speed(session.now_s, rpm)
    session.link.run(session.now_s, 10.0, rpm, 1.0, 1.0)
    session.live(0.3)
    assert refusals(session) == [("set_speed", "out_of_range"), ("run", "out_of_range")]
    assert session.board.state == "running"


def test_a_board_is_never_armed_for_more_than_it_has_stored() -> None:
    """Asked for 45 rpm, a board that has stored 20 is armed for 20, and a lower speed as asked."""
    for asked_rpm, armed_mrpm in ((45.0, 20_000), (12.0, 12_000)):
        session = Session(IdealBoard(settings=with_value(DEFAULTS, 3, 20_000)))
        session.greet()
        session.live(1.5)
        session.link.arm(session.now_s, asked_rpm)
        session.until(lambda session=session: session.board.state == "armed", 1.0)  # type: ignore[misc]
        assert session.board.controller.motion._ceiling == armed_mrpm


def test_arming_waits_for_the_settings() -> None:
    """Before the board has told its limits, arming is refused here: they are read, never assumed."""
    session = Session()
    session.link.arm(session.now_s, 30.0)
    session.live(0.3)
    assert refusals(session) == [("arm", "settings_unknown")]
    assert session.board.state == "disarmed"


def test_a_late_status_keeps_no_value_alive() -> None:
    """A status older than the newest breaks the silence, but what is known is no fresher by it."""
    session = Session()
    session.greet()
    session.live(0.5)
    session.board.silent = True
    session.live(0.1)
    newest, seen_s = session.link.last_status, session.link.last_status_at_s
    assert newest is not None
    late = messages.Status(2, messages.HAS_OWNER, 0, 0, 9000, 9000, 9000, 0, 9, 9, 0, 0, 0, 0, 0, 0)
    say(session, late, round(newest.at_s * 1000.0) - 200)
    session.live(0.1)
    assert (session.link.last_status, session.link.last_status_at_s) == (newest, seen_s)


def test_listening_sends_nothing() -> None:
    """With listen_only not a byte is sent, and others' orders are told as the board answers them."""
    board = IdealBoard()
    tee, ear = Tee(board), Ear()
    session = Session(board, transport=tee)
    listener, told = BoardLink(ear, 0, listen_only=True), list[Reading]()
    session.renewing = True
    acts = {60: lambda: session.link.arm(session.now_s, 45.0)}
    acts[90] = lambda: session.link.run(session.now_s, 10.0, 900.0, 960.0, 90.0)
    for count in range(200):
        acts.get(count, lambda: None)()
        session.step()
        ear.heard = tee.heard
        told += listener.poll(session.now_s)
    listener.stop(session.now_s, False, "person")
    assert ear.sent == b""
    assert told == session.heard
    assert {type(reading) for reading in told} >= {Armed, Running, Hello, Status, TablePulse}
