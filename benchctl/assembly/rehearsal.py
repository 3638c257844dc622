"""The simulated bench in life's time or faster, with a scripted person or a real one."""

from __future__ import annotations

from benchctl.assembly.build import Parts
from benchctl.assembly.host_mishaps import HostMishaps
from benchctl.session.acts import Act, Done
from benchctl.session.calls import current_call
from benchctl.session.live import BenchLoop
from benchctl.simulator.operator import Operator, Sees
from benchctl.simulator.simulated import SimulatedBench


def scripted_loop(parts: Parts, kind: str, seed: int, pace: float = 1.0) -> BenchLoop:
    """A bench loop whose acts come from a scripted person, the start too."""
    operator = Operator(kind, seed)
    plant, mishaps = parts.plant, HostMishaps(parts)
    assert plant is not None

    def moved(now_s: float) -> bool:
        parts.release_mishaps()
        if not mishaps.play(now_s):
            return False
        runner = parts.runner
        call = current_call(runner, now_s)
        sees = Sees(str(runner.engine.state), None if call is None else call.pattern)
        for name in operator.step(now_s, sees):
            plant.person(name)
            runner.do(Done(Act(name)))
        return True

    return BenchLoop(parts.runner, parts.clock, plant=plant, pace=pace, moved=moved)


class RehearsalBench(BenchLoop):
    """A bench loop on the simulated bench with a person at the screen: their wetting wets the work."""

    def do(self, done: Done) -> None:
        """Post a person's act."""
        if isinstance(self._plant, SimulatedBench):
            self._plant.person(done.act.value)
        super().do(done)


def rehearsal_loop(parts: Parts, pace: float) -> RehearsalBench:
    """A bench loop for the screen on the simulated bench."""
    mishaps = HostMishaps(parts)

    def moved(now_s: float) -> bool:
        parts.release_mishaps()
        return mishaps.play(now_s)

    return RehearsalBench(parts.runner, parts.clock, plant=parts.plant, pace=pace, moved=moved)
