"""A host of raw messages: greets, arms, runs, renews and stops, with nothing of the program's own host."""

from __future__ import annotations

from functools import cache

from benchctl.models.job import demo_job
from benchctl.simulator.constants import BenchConstants, SensorData
from benchctl.simulator.friction import FaceFriction
from benchctl.simulator.mishaps import parse_mishap
from benchctl.simulator.operator import Operator
from benchctl.simulator.simulated import SimulatedBench
from firmware_protocol import codec, frames, messages
from firmware_protocol import reasons as r

TOKEN = 77
EVEN = BenchConstants(
    slow_wander=0.0,
    fast_wander=0.0,
    ripple_most=0.0,
    start_jerk=0.0,
    table_ripple=0.0,
    load_noise=0.0,
    load_floor=0.0,
    table_sensor=SensorData(targets=24, placement_deg=0.0, jitter_s=0.0),
    lap_sensor=SensorData(targets=12, placement_deg=0.0, jitter_s=0.0),
)
"""A bench on which nothing wanders, ripples or jitters."""


@cache
def demo_face() -> FaceFriction:
    """The demo job's contact, tabulated once for all tests."""
    return FaceFriction.of(demo_job())


def make_bench(
    *mishaps: str, seed: int = 1, constants: BenchConstants | None = None, operator: str | None = None
) -> SimulatedBench:
    """A simulated bench with the demo job and mishaps such as 'lap-stall@40'."""
    return SimulatedBench(
        demo_job(),
        seed=seed,
        mishaps=[parse_mishap(text) for text in mishaps],
        pedal_operator=None if operator is None else Operator(operator, seed),
        constants=constants,
        face=demo_face(),
    )


class RawHost:
    """Steps a bench 30 ms at a time and keeps the permit alive while `alive`."""

    def __init__(self, bench: SimulatedBench) -> None:
        self.bench = bench
        self.alive = True
        self.status: messages.Status | None = None
        self.told: list[tuple[float, object]] = []
        self.edges: list[messages.Edges] = []
        self.bytes_read = bytearray()
        self._frames = frames.FrameReader()
        self._seq = self._epoch = self._status_ms = 0
        self._renewed_s = 0.0

    @property
    def dropped(self) -> int:
        """Damaged frames seen."""
        return int(self._frames.dropped)

    def say(self, message: tuple[object, ...]) -> None:
        """Send one message."""
        self._seq = (self._seq + 1) & 0xFFFF
        payload = codec.encode(message, self._epoch, self._seq, 0)
        self.bench.transport.write(frames.encode(payload))

    def step(self) -> None:
        """Let 30 ms pass, read all, renew."""
        self.bench.advance(self.bench.now_s + 0.03)
        if self.bench.cable.unplugged:
            return
        data = self.bench.transport.read()
        self.bytes_read += data
        for payload in self._frames.feed(data):
            header, message = codec.decode(payload)
            self._epoch = header.epoch
            if isinstance(message, messages.Status):
                self.status, self._status_ms = message, header.t_ms
            elif isinstance(message, messages.Edges):
                self.edges.append(message)
            else:
                self.told.append((self.bench.now_s, message))
        running = self.status is not None and self.status.state == messages.RUNNING
        if self.alive and running and self.bench.now_s - self._renewed_s >= 0.15:
            self._renewed_s = self.bench.now_s
            self.say(messages.Renew(TOKEN, self._status_ms))

    def until(self, at_s: float) -> None:
        """Step until a time of the bench."""
        while self.bench.now_s < at_s - 1e-9:
            self.step()

    def until_state(self, state: str, most_s: float) -> float:
        """Step until the board is in a state; the seconds it took. AssertionError after `most_s`."""
        start_s = self.bench.now_s
        while self.bench.board.state != state:
            assert self.bench.now_s - start_s <= most_s, (self.bench.board.state, self.reason)
            self.step()
        return self.bench.now_s - start_s

    def until_rest(self, most_s: float) -> float:
        """Step until the table itself rests; the seconds it took. AssertionError after `most_s`."""
        start_s = self.bench.now_s
        while self.bench.plant.table_rad_s:
            assert self.bench.now_s - start_s <= most_s, (self.bench.truth(), self.reason)
            self.step()
        return self.bench.now_s - start_s

    def start(self, rpm: float, end_s: float = 20000.0, lap: int = 1) -> None:
        """Greet, arm and run; the table begins to turn at about 2.3 s."""
        self.until(1.3)
        self.say(messages.Hello(messages.MAGIC, TOKEN, messages.VERSION, 0, codec.SCHEMA_HASH))
        self.until(1.5)
        self.say(messages.Arm(TOKEN, 45000, 850, lap))
        self.until(2.2)
        end_ms = round(end_s * 1000)
        call_ms = max(0, end_ms - 60000)
        self.say(messages.Run(TOKEN, self._status_ms, round(rpm * 1000), call_ms, end_ms, 90000))
        self.until(2.4)
        assert self.bench.board.state == "running", self.told

    def set_speed(self, rpm: float) -> None:
        """Ask for another speed."""
        self.say(messages.SetSpeed(TOKEN, round(rpm * 1000)))

    def stop(self) -> None:
        """Ask for the planned stop."""
        self.say(messages.Stop(r.PLANNED, r.PLANNED_END))

    @property
    def reason(self) -> str:
        """Why the board stopped last."""
        return r.name_of(self.bench.board.controller.motion.reason)
