"""Guards of the board that no other test missed when they were taken out in the mutation run."""

from __future__ import annotations

from firmware_protocol import reasons as r
from firmware_protocol.messages import RUNNING, TRIPPED
from tests.firmware_protocol.portable.bench import Bench


def test_a_tripped_board_is_not_armed() -> None:
    """A board that holds a fault refuses to arm and names the fault, whatever has become of its cause."""
    bench = Bench()
    bench.start(seconds=3)
    bench.host_alive = False
    bench.until(TRIPPED, 5000)
    bench.steps(300)
    reply = bench.arm()
    assert (reply.refusal, reply.detail) == (r.FAULT_LATCHED, r.PERMIT_EXPIRED)
    assert bench.controller.state == TRIPPED


def test_a_running_board_is_not_armed() -> None:
    """A board that turns the table refuses to arm, and goes on."""
    bench = Bench()
    bench.start(seconds=3)
    reply = bench.arm()
    assert (reply.refusal, reply.detail) == (r.WRONG_STATE, RUNNING)
    assert bench.controller.state == RUNNING
