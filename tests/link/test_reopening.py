"""A lost cable is looked for again, with growing waits, and nothing restarts by its coming back."""

from __future__ import annotations

import pytest

from benchctl.clock import SteppedClock
from benchctl.errors import LinkLost, PortUnavailable
from benchctl.link.board import BoardLink
from benchctl.link.reopening import ReopeningTransport
from benchctl.link.transport import Transport
from benchctl.models.readings import Lost, Status
from benchctl.simulator.cable import HostEnd
from tests.simulator.raw_host import make_bench


class Socket:
    """A place to plug in: counts the tries, and lets in while it is `there`."""

    def __init__(self, clock: SteppedClock) -> None:
        self.clock = clock
        self.there = True
        self.tried_at_s: list[float] = []
        self.open_ends: list[Plug] = []

    def open(self) -> Transport:
        self.tried_at_s.append(self.clock.now_s)
        if not self.there:
            raise PortUnavailable("not there")
        self.open_ends.append(Plug(self))
        return self.open_ends[-1]


class Plug:
    """An open end that fails while the socket is away."""

    def __init__(self, socket: Socket) -> None:
        self.socket = socket
        self.closed = False

    def read(self) -> bytes:
        if not self.socket.there:
            raise LinkLost("pulled out")
        return b"word"

    def write(self, data: bytes) -> None:
        self.read()

    def close(self) -> None:
        self.closed = True


def quiet_read(transport: ReopeningTransport) -> bytes | None:
    """What is read; None where the cable is away."""
    try:
        return transport.read()
    except LinkLost:
        return None


def test_a_port_that_cannot_be_opened_is_told_at_once() -> None:
    """At the first opening nothing is tried twice: the reason is raised."""
    socket = Socket(SteppedClock())
    socket.there = False
    with pytest.raises(PortUnavailable):
        ReopeningTransport(socket.open, socket.clock)
    assert len(socket.tried_at_s) == 1


def test_the_waits_double_from_a_quarter_of_a_second_to_two() -> None:
    """After a loss it is tried after 0.25 s, then after waits that double up to 2 s and stay there."""
    clock = SteppedClock()
    socket = Socket(clock)
    transport = ReopeningTransport(socket.open, clock)
    assert transport.read() == b"word"
    socket.there = False
    socket.tried_at_s.clear()
    while clock.now_s < 11.0:
        assert quiet_read(transport) is None
        clock.sleep(0.01)
    waits = [
        later - earlier for earlier, later in zip([0.0, *socket.tried_at_s], socket.tried_at_s, strict=False)
    ]
    assert waits == pytest.approx([0.25, 0.5, 1.0, 2.0, 2.0, 2.0, 2.0], abs=0.021)


def test_it_comes_back_and_the_old_end_was_given_back() -> None:
    """When the cable is there again it is read again; the lost end was closed before."""
    clock = SteppedClock()
    socket = Socket(clock)
    transport = ReopeningTransport(socket.open, clock)
    socket.there = False
    with pytest.raises(LinkLost):
        transport.write(b"order")
    assert socket.open_ends[0].closed
    socket.there = True
    with pytest.raises(LinkLost):
        transport.write(b"kept for later?")
    clock.sleep(0.3)
    assert transport.read() == b"word"
    assert transport.reopened == 1


def test_given_back_it_is_looked_for_no_more() -> None:
    """After `close` no try is made any more."""
    clock = SteppedClock()
    socket = Socket(clock)
    transport = ReopeningTransport(socket.open, clock)
    transport.close()
    for _ in range(50):
        clock.sleep(0.1)
        assert quiet_read(transport) is None
    assert len(socket.tried_at_s) == 1


def test_a_reconnect_moves_nothing() -> None:
    """The cable goes out while the table turns, and comes back: the board is heard, the table rests."""
    bench = make_bench()
    clock = SteppedClock(2.0)
    bench.advance(2.0)
    away = [False]

    def open_it() -> Transport:
        if away[0]:
            raise PortUnavailable("not there")
        return HostEnd(bench.cable)

    link = BoardLink(ReopeningTransport(open_it, clock), 5)
    readings: list[object] = []

    def live(seconds: float, renew: bool) -> None:
        until_s = clock.now_s + seconds
        while clock.now_s < until_s:
            readings.extend(link.poll(clock.now_s))
            if renew and round(clock.now_s * 50) % 7 == 0:
                link.renew(clock.now_s)
            clock.sleep(0.02)
            bench.advance(clock.now_s)

    live(1.0, False)
    link.arm(clock.now_s, 10.0)
    live(0.8, False)
    link.run(clock.now_s, 5.0, 600.0, 600.0, 0.0)
    live(4.0, True)
    assert bench.plant.table_rpm > 4.5
    away[0] = bench.cable.unplugged = True
    link.set_speed(clock.now_s, 6.0)
    live(2.0, True)
    assert any(isinstance(reading, Lost) for reading in readings)
    assert bench.plant.table_rpm == 0.0, "the board stops by itself"
    away[0] = bench.cable.unplugged = False
    readings.clear()
    live(6.0, True)
    assert not link.lost
    assert any(isinstance(reading, Status) for reading in readings)
    assert bench.plant.table_rpm == 0.0
    assert bench.board.state == "tripped"
