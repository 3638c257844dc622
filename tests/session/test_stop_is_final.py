"""What has been stopped stays stopped, and nothing says that the table rests before it was seen to rest."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.simulator.cable import HostEnd
from firmware_protocol import codec, frames, messages
from tests.session.driven import Driven


@pytest.mark.parametrize("acts", [(Act.ARM, Act.STOP), (Act.STOP, Act.ARM)])
def test_a_stop_voids_what_was_asked_beside_it(bench: Driven, acts: tuple[Act, ...]) -> None:
    """Whoever presses STOP wants no start: acts that lead to motion and wait beside it are dropped."""
    bench.go(2.0)
    for act in acts:
        bench.runner.do(Done(act))
    bench.go(2.0)
    assert bench.state is State.READY
    assert "board_armed" not in bench.names()
    assert bench.plant.truth().board_state == "disarmed"


def without_stop(data: bytes) -> bytes:
    """Frames as they are, but no STOP among them."""
    payloads = frames.FrameReader().feed(data)
    return b"".join(frames.encode(one) for one in payloads if codec.header_of(one).kind != messages.STOP)


def test_a_stop_that_the_board_never_hears_ends_the_run_permit(
    bench: Driven, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the program wants the table to rest it renews no permit: the board stops without being told."""
    bench.polish()
    speed = bench.rpm
    write = HostEnd.write
    monkeypatch.setattr(HostEnd, "write", lambda end, data: write(end, without_stop(data)))
    bench.do(Act.STOP)
    bench.until(lambda: bench.rpm < 0.05, 0.6 + speed * 0.10472 / 2.0 + 0.5)
    bench.until(lambda: not bench.plant.board.controller.enable, 3.0)


def test_rest_that_was_not_seen_is_not_called_rest(bench: Driven) -> None:
    """Where the board fell silent nobody is told to lift the lap: look first. Seen at rest, it is called."""
    bench.polish()
    bench.play("cable-out")
    bench.until(lambda: bench.state is State.STANDING, 60.0)
    bench.do(Act.ACKNOWLEDGE)
    bench.go(1.0)
    assert bench.alarm("lap_standing") is None
    assert "only if it stands" in bench.shot.do_now
    assert not bench.shot.rest_seen
    bench.plant.cable.unplugged = False
    bench.until(lambda: bench.shot.rest_seen, 10.0)
    call = bench.shot.call
    assert call is not None
    assert (call.title, bench.alarm("rest_unseen")) == ("TABLE AT REST", None)


def test_rest_that_was_seen_is_believed_while_the_lap_is_slid_off(tmp_path: Path) -> None:
    """A table nudged by hand after it was seen at rest changes no call."""
    bench = Driven(tmp_path, minutes=4.0)
    bench.polish()
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING, 30.0)
    bench.plant.plant.table_rad_s = 0.4
    bench.go(0.6)
    assert bench.shot.rest_seen
    assert bench.alarm("lap_standing") is not None
    bench.parts.close()


def test_after_a_stop_that_was_seen_the_lap_is_called_off_the_glass(bench: Driven) -> None:
    """Once the fault is acknowledged, buzzer and lamp call for the lap that stands on the glass."""
    bench.polish()
    bench.play("lap-stall")
    bench.until(lambda: bench.state is State.STANDING, 60.0)
    assert bench.shot.call is not None
    assert bench.shot.call.pattern == "fault"
    bench.do(Act.ACKNOWLEDGE)
    bench.go(16.0)
    assert bench.shot.call is not None
    assert (bench.shot.call.pattern, bench.shot.call.title) == ("end", "TABLE AT REST")


def test_nobody_is_called_to_a_table_whose_power_stays_on(bench: Driven) -> None:
    """With power that did not switch off, all words are for the emergency stop, however long it stands."""
    bench.polish()
    bench.play("relay-welded")
    bench.go(1.0)
    bench.do(Act.STOP)
    bench.until(lambda: bench.state is State.STANDING, 60.0)
    assert bench.alarm("power_not_off") is not None
    bench.do(Act.ACKNOWLEDGE)
    bench.go(90.0)
    assert bench.shot.do_now.startswith("PRESS THE EMERGENCY STOP")
    assert not bench.shot.rest_seen
    assert bench.alarm("lap_standing") is None
