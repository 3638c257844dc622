"""Guards of the host that no other test missed when they were taken out in the mutation run."""

from __future__ import annotations

from pathlib import Path

from benchctl.session.acts import Act, Done
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
