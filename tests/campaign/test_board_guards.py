"""Guards of the board that no other test missed when they were taken out in the mutation run."""

from __future__ import annotations

from firmware_protocol import messages
from firmware_protocol import reasons as r
from firmware_protocol.messages import DISARMED, RUNNING, TRIPPED
from firmware_protocol.settings import DEFAULTS, with_value
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


def test_a_running_board_is_neither_armed_nor_run_again() -> None:
    """A board that turns the table refuses to arm and to run anew, and goes on with the time it had."""
    bench = Bench()
    bench.start(seconds=3)
    for ask in (bench.arm, bench.run):
        reply = ask()
        assert (reply.refusal, reply.detail) == (r.WRONG_STATE, RUNNING)
    assert bench.controller.state == RUNNING
    assert bench.controller.motion.run_ms > 3000


def test_a_board_that_was_stopped_while_armed_does_not_run() -> None:
    """RUN within the ten seconds of an arming that a STOP has ended is refused; a trip ends it too."""
    bench = Bench()
    bench.steps(250)
    for ends in ("stop", "trip"):
        bench.greet()
        assert bench.arm().refusal == r.OK
        bench.steps(100)
        if ends == "stop":
            bench.ask(messages.Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
        else:
            bench.estop_open = True
            bench.steps(5)
            bench.estop_open = False
            bench.steps(5)
        reply = bench.run()
        state = bench.controller.state
        assert (reply.refusal, reply.detail) == (r.WRONG_STATE, state)
        assert state == (DISARMED if ends == "stop" else TRIPPED)


def test_power_goes_after_its_stored_time_whatever_the_ramp_says() -> None:
    """With 0.5 s stored, a stop from 26 rpm that would ramp for 1.4 s has no power after 0.5 s."""
    bench = Bench(settings=with_value(DEFAULTS, 7, 500))
    bench.start(seconds=10)
    bench.ask(messages.Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    bench.steps(40)
    assert bench.controller.enable
    bench.steps(15)
    assert not bench.controller.enable
