"""Guards of the host that no other test missed when they were taken out in the mutation run."""

from __future__ import annotations

from pathlib import Path

from benchctl.segment.commands import StopBoard
from benchctl.segment.engine import SegmentEngine
from benchctl.segment.states import On, State
from benchctl.session.acts import Act, Done
from tests.segment.test_engine import plan
from tests.session.driven import Driven


def test_stop_goes_before_acts_that_wait(tmp_path: Path) -> None:
    """STOP is carried out first, whatever was asked for before it in the same step."""
    bench = Driven(tmp_path)
    bench.start()
    for act in (Act.WETTED, Act.WETTED, Act.STOP):
        bench.runner.do(Done(act))
    bench.stepper.step()
    told = [name for name in bench.names() if name in ("stopping", "wetted")]
    assert told == ["stopping", "wetted", "wetted"]
    bench.parts.close()


def test_a_board_that_does_not_start_is_stopped() -> None:
    """Four seconds after RUN without the board's answer STOP is sent, and the reason is told."""
    engine = SegmentEngine(plan())
    for now_s, event in ((0.0, On.ARM), (0.1, On.BOARD_ARMED), (1.0, On.RUN)):
        engine.handle(event, now_s)
    assert engine.state is State.STARTING
    assert engine.tick(4.9) == []
    assert any(isinstance(command, StopBoard) for command in engine.tick(5.0))
    assert (engine.state, engine.stop_reason) == (State.STOPPING, "start_unanswered")
