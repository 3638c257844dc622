"""The controller under any order of events: rules that must hold after every one of them."""

from __future__ import annotations

import pickle
import random
import struct

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from firmware_protocol import codec, messages
from firmware_protocol import reasons as r
from firmware_protocol.controller import Controller
from firmware_protocol.frames import FrameReader
from firmware_protocol.frames import encode as frame
from firmware_protocol.messages import ARMED, DISARMED, RUNNING, SLOWING, TRIPPED
from firmware_protocol.settings import DEFAULTS
from tests.firmware_protocol.portable.bench import TOKEN, Bench


class BoardRules(RuleBasedStateMachine):
    """A bench on which anything may happen; what was done last is kept to judge a change of state."""

    def __init__(self) -> None:
        super().__init__()
        self.bench = Bench(start_ms=0xFFFFFFFF - 5000)
        self.bench.steps(150)
        self.last = "boot"
        self.state = self.bench.controller.state
        self.fault = r.NONE
        self.accepted: messages.Reply | None = None
        self.moved_before = False

    def note(self, what: str, reply: messages.Reply | None = None) -> None:
        self.last, self.accepted = what, reply

    @rule(token=st.sampled_from([TOKEN, TOKEN, TOKEN, 7, 0]))
    def greet(self, token: int) -> None:
        self.note("greet", self.bench.greet(token))

    @rule(ceiling=st.sampled_from([45000, 45000, 20000, 60000, 0]))
    def arm(self, ceiling: int) -> None:
        self.note("arm", self.bench.arm(ceiling=ceiling))

    @rule(speed=st.sampled_from([26000, 45000, 6000, 0, 500000]), quote=st.sampled_from([0, 0, 0, 700, 5000]))
    def run(self, speed: int, quote: int) -> None:
        bench = self.bench
        quoted = (bench.status_at - quote) & 0xFFFFFFFF
        self.note("run", bench.ask(messages.Run(TOKEN, quoted, speed, 5000, 20000, 5000)))

    @precondition(lambda self: self.bench.controller.state == DISARMED)
    @rule(speed=st.sampled_from([6000, 26000, 45000]), seconds=st.integers(0, 8))
    def start_properly(self, speed: int, seconds: int) -> None:
        self.bench.greet()
        self.bench.arm()
        self.bench.steps(60)
        self.note("run", self.bench.run(speed))
        self.bench.steps(seconds * 100)

    @rule(speed=st.integers(0, 60000))
    def set_speed(self, speed: int) -> None:
        self.note("speed", self.bench.ask(messages.SetSpeed(TOKEN, speed)))

    @rule(kind=st.integers(0, 4), reason=st.sampled_from([0, 1, 2, 17, 40, 999]))
    def stop(self, kind: int, reason: int) -> None:
        self.note("stop", self.bench.ask(messages.Stop(kind, reason), epoch=3, seq=0))
        assert self.bench.controller.state in (DISARMED, SLOWING, TRIPPED)

    @rule(right=st.booleans())
    def reset(self, right: bool) -> None:
        self.moved_before = not self.bench.controller.motion.table.at_rest()
        fault = self.bench.controller.motion.reason if right else 77
        self.note("reset", self.bench.ask(messages.Reset(TOKEN, fault)))

    @rule(seconds=st.sampled_from([1, 1, 5, 10, 60, 200, 500, 1100]))
    def wait(self, seconds: int) -> None:
        self.note("wait")
        self.bench.steps(seconds)

    @rule(on=st.booleans())
    def estop(self, on: bool) -> None:
        self.note("estop")
        self.bench.estop_open = on
        self.bench.steps(1)

    @rule(on=st.booleans())
    def pedal(self, on: bool) -> None:
        self.note("pedal")
        self.bench.pedal = on
        self.bench.steps(5)

    @rule(alive=st.booleans())
    def host(self, alive: bool) -> None:
        self.note("host")
        self.bench.host_alive = alive

    @rule(dead=st.booleans())
    def sensor(self, dead: bool) -> None:
        self.note("sensor")
        self.bench.table_sensor = not dead

    @rule(load=st.sampled_from([100, 400, 400, 700, 900]))
    def load(self, load: int) -> None:
        self.note("load")
        self.bench.load = load

    @rule(payload=st.binary(min_size=10, max_size=40), kind=st.integers(0, 255))
    def any_words(self, payload: bytes, kind: int) -> None:
        self.note("words")
        self.bench.controller.receive(bytes([1, kind]) + payload[2:], self.bench.now_ms)
        self.bench.steps(1)

    @rule()
    def raw_stop(self) -> None:
        self.note("raw stop")
        self.bench.controller.raw_stop(self.bench.now_ms)

    @rule()
    def restart(self) -> None:
        self.note("boot")
        self.bench.controller = Controller(DEFAULTS, "b", "f", 2, messages.WATCHDOG)
        self.bench.steps(1)
        assert self.bench.controller.state == DISARMED

    @invariant()
    def power_only_with_every_leave(self) -> None:
        """Turning under power means running with a live permit, or slowing; never with the e-stop open."""
        c = self.bench.controller
        if c.enable:
            assert c.state in (RUNNING, SLOWING)
            assert not c.motion.estop_open
        if c.state == RUNNING:
            assert c.motion.permit.live(c.motion.up_ms)
        if c.state in (DISARMED, ARMED, TRIPPED):
            assert not c.enable
            assert c.speed_out_mrpm == 0

    @invariant()
    def speed_within_the_ceiling(self) -> None:
        """No output over the ceiling."""
        c = self.bench.controller
        assert 0 <= c.speed_out_mrpm <= c.settings.ceiling_mrpm
        assert c.motion.ramp.target_mrpm <= c.settings.ceiling_mrpm

    @invariant()
    def changes_have_their_cause(self) -> None:
        """Running begins by an accepted Run only; tripped ends by an accepted Reset at rest, or a restart."""
        now = self.bench.controller.state
        done = self.accepted is not None and self.accepted.refusal == r.OK
        if now == RUNNING and self.state != RUNNING:
            assert self.last == "run"
            assert done
        if self.state == TRIPPED and now != TRIPPED and self.last != "boot":
            assert self.last == "reset"
            assert done
            assert not self.moved_before
        if (
            now == TRIPPED
            and self.state == TRIPPED
            and self.bench.controller.motion.reason != r.POWER_NOT_OFF
        ):
            assert self.bench.controller.motion.reason == self.fault, "the first cause stays"
        self.state = now
        self.fault = self.bench.controller.motion.reason
        self.accepted = None


BoardRules.TestCase.settings = settings(
    max_examples=500, stateful_step_count=50, deadline=None, suppress_health_check=list(HealthCheck)
)
test_board_rules = BoardRules.TestCase


class LongBoardRules(BoardRules):
    """The same, for longer."""


LongBoardRules.TestCase.settings = settings(
    max_examples=20000, stateful_step_count=100, deadline=None, suppress_health_check=list(HealthCheck)
)
TestLongBoardRules = pytest.mark.long(pytest.mark.timeout(7200)(LongBoardRules.TestCase))


SILLY = (0, 1, 500, 44000, 45001, 60000)
FIELD_LIMITS = {"B": 0xFF, "H": 0xFFFF, "I": 0xFFFFFFFF}
SPEEDS_AND_CALLS = (messages.SET_SPEED, messages.RUN, messages.ARM, messages.SET_END, messages.CALL)


@pytest.mark.parametrize("seed", [5, 6, 7, 8])
def test_raw_set_frames(seed: int) -> None:
    """Of 10^6 orders with silly fields (a quarter here), most of them to a running table, none drives it
    over the ceiling or raises."""
    rng = random.Random(seed)
    orders = [
        (kind, struct.Struct("<BBHHII" + codes[1:]).pack, [FIELD_LIMITS[code] for code in codes[1:]])
        for kind, _, codes in messages.TABLE
        if kind in SPEEDS_AND_CALLS
    ]
    pool = [value for _ in range(400) for value in (*SILLY, rng.getrandbits(32))]
    running = Bench()
    running.start()
    started, to_running, highest = pickle.dumps(running), 0, 0
    bench = pickle.loads(started)
    for number in range(250_000):
        c = bench.controller
        kind, pack, limits = orders[number % len(orders)]
        values = [
            value & limit for value, limit in zip(rng.choices(pool, k=len(limits)), limits, strict=True)
        ]
        bench.seq = (bench.seq + 1) & 0xFFFF
        to_running += c.state == RUNNING
        c.receive(pack(messages.VERSION, kind, bench.epoch, bench.seq, 0, TOKEN, *values), bench.now_ms)
        assert c.motion.ramp.target_mrpm <= 45000
        if number % 50 == 0:
            bench.step()
            highest = max(highest, c.speed_out_mrpm)
            if c.state != RUNNING and number % 200 == 0:
                bench = pickle.loads(started)
    assert to_running > 150_000
    assert 26_000 < highest <= 45_000


def test_board_on_a_bad_line() -> None:
    """Random bytes and mutated frames on the line never start a table, and never raise."""
    rng = random.Random(9)
    bench = Bench()
    bench.steps(150)
    bench.greet()
    reader = FrameReader()
    for _ in range(3000):
        data = bytearray(frame(codec.encode(messages.Arm(TOKEN, 45000, 850, 0), bench.epoch, 5, 0)))
        data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        for payload in reader.feed(rng.randbytes(30) + bytes(data)):
            bench.controller.receive(payload, bench.now_ms)
        bench.step()
        assert bench.controller.state == DISARMED


def test_restarts_never_move() -> None:
    """Of 10,000 restarts at any moment of a run none starts the table."""
    rng = random.Random(3)
    for start in range(10_000):
        c = Controller(DEFAULTS, "b", "f", start, rng.randrange(4))
        now = rng.getrandbits(32)
        c.receive(codec.encode(messages.Renew(TOKEN, now), rng.getrandbits(16), 1, 0), now)
        c.receive(codec.encode(messages.Run(TOKEN, now, 26000, 1, 9000, 0), rng.getrandbits(16), 2, 0), now)
        for _ in range(3):
            now = (now + 10) & 0xFFFFFFFF
            c.inputs(0, False, False, False)
            c.step(now)
        assert (c.state, c.enable, c.speed_out_mrpm) == (DISARMED, False, 0)
