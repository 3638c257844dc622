"""A segment in simulated time, as fast as the computer can: plant, operator and runner in one thread."""

from __future__ import annotations

from benchctl.assembly.build import Parts
from benchctl.assembly.host_mishaps import HostMishaps
from benchctl.clock import SteppedClock
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.calls import current_call
from benchctl.simulator.operator import Operator, Sees
from benchctl.simulator.simulated import SimulatedBench

STEP_S = 0.15
"""Each step renews the run permit; live, it is renewed somewhat more often."""
STANDING_LIMIT_S = 60.0
"""Without a face, nobody can answer later than this that the lap is lifted."""
LONGEST_S = 6 * 3600.0


class Stepper:
    """Steps one simulated bench on simulated time until its segment is over."""

    def __init__(self, parts: Parts, operator: Operator | None, step_s: float = STEP_S) -> None:
        assert parts.plant is not None
        assert isinstance(parts.clock, SteppedClock)
        self.parts = parts
        self.plant: SimulatedBench = parts.plant
        self.clock: SteppedClock = parts.clock
        self.operator = operator
        self.step_s = step_s
        self.now_s = 0.0
        self._mishaps = HostMishaps(parts)

    def step(self) -> None:
        """One step of everything."""
        self.now_s = round(self.now_s + self.step_s, 6)
        self.plant.advance(self.now_s)
        runs = self._mishaps.play(self.now_s)
        self.clock.follow(self.now_s)
        if not runs:
            return
        runner = self.parts.runner
        if self.operator is not None:
            call = current_call(runner, self.host_s)
            sees = Sees(str(runner.engine.state), None if call is None else call.pattern)
            for name in self.operator.step(self.now_s, sees):
                self.plant.person(name)
                runner.do(Done(Act(name)))
        runner.step(self.host_s)
        self.parts.release_mishaps()

    @property
    def host_s(self) -> float:
        """The host's monotonic time: the bench's, less what the computer slept."""
        return self.clock.now_s

    @property
    def over(self) -> bool:
        """Whether the segment is over, has stood unlifted for a minute, or was never started."""
        return self.now_s >= LONGEST_S or not_armed(self.parts) or over(self.parts, self.host_s)

    def run(self) -> None:
        """Step until it is over."""
        while not self.over:
            self.step()


def not_armed(parts: Parts) -> bool:
    """Whether this program has refused to arm, for a reason that only a person can mend."""
    return parts.runner.engine.state is State.READY and bool(parts.runner.at.not_armed)


def over(parts: Parts, now_s: float) -> bool:
    """Whether nothing more will happen in a segment that no face waits for."""
    engine = parts.runner.engine
    if engine.state in (State.LOOK, State.CLOSED):
        return True
    if engine.state is State.STANDING:
        return now_s - engine.entered_s >= STANDING_LIMIT_S
    return engine.state is State.READY and now_s - engine.entered_s >= STANDING_LIMIT_S
