"""A small bench of whole numbers around the real controller, for tests in all three interpreters.

The table follows the drive with a lag; with the power off it is braked by the lap. It is no model of
polishing (the simulator has that), only enough to make edges, load and relay answers that fit together,
and to break any one of them.
"""

from firmware_protocol import codec, messages
from firmware_protocol import reasons as r
from firmware_protocol.controller import Controller
from firmware_protocol.settings import DEFAULTS, Settings

ONE_TURN = 60000000
TOKEN = 0xC0FFEE


class Bench:
    """Controller, table, sensors, relay and a host that renews. Change an attribute to break a thing."""

    def __init__(
        self, settings: Settings | None = DEFAULTS, start_ms: int = 0, boot_counter: int = 1
    ) -> None:
        self.controller = Controller(settings, "test bench", "test", boot_counter)
        self.now_ms = start_ms
        self.speed = 0
        self.angle = 0
        self.lap_angle = 0
        self.host_alive = True
        self.estop_open = False
        self.pedal = False
        self.relay_welded = False
        self.relay_dead = False
        self.table_sensor = True
        self.lap_sensor = True
        self.glitch_permille = 0
        self.lost_permille = 0
        self.glitch_us = 0
        self.slip_permille = 0
        self.stuck_at = -1
        self.runaway_mrpm_s = 0
        self.jammed = False
        self.load = 400
        self.lap_ratio = 900
        self.epoch = 0
        self.seq = 0
        self.status = messages.Status(*([0] * 16))
        self.status_at = 0
        self.log: list[tuple[int, tuple[object, ...]]] = []
        self.edge_frames: list[tuple[int, messages.Edges]] = []
        self.fastest = 0
        self._dice = 12345
        self._renew_at = 0

    # The host's side

    def say(self, message: tuple[object, ...], epoch: int = -1, seq: int = -1) -> None:
        """Send one message; seq and epoch follow the rules unless given."""
        if seq < 0:
            self.seq = (self.seq + 1) & 0xFFFF
            seq = self.seq
        epoch = self.epoch if epoch < 0 else epoch
        self.controller.receive(codec.encode(message, epoch, seq, 0), self.now_ms)

    def ask(self, message: tuple[object, ...], epoch: int = -1, seq: int = -1) -> messages.Reply:
        """Send, take one step, and give the reply."""
        before = len(self.log)
        self.say(message, epoch, seq)
        self.steps(1)
        for _, message_back in self.log[before:]:
            if isinstance(message_back, messages.Reply):
                return message_back
        raise AssertionError("no reply")

    def greet(self, token: int = TOKEN) -> messages.Reply:
        return self.ask(messages.Hello(messages.MAGIC, token, messages.VERSION, 0, codec.SCHEMA_HASH))

    def arm(
        self, ceiling: int = 45000, lap: int = 0, token: int = TOKEN, load_limit: int = 850
    ) -> messages.Reply:
        return self.ask(messages.Arm(token, ceiling, load_limit, lap))

    def run(
        self, target: int = 26000, end_ms: int = 960000, standing: int = 90000, token: int = TOKEN
    ) -> messages.Reply:
        call = end_ms - 60000 if end_ms > 60000 else end_ms
        return self.ask(messages.Run(token, self.status_at, target, call, end_ms, standing))

    def start(self, target: int = 26000, seconds: int = 12, lap: int = 0) -> None:
        """Rest, greet, arm, run, and turn for some seconds."""
        self.steps(150 + 2400 // self.controller.settings.table_edges_per_turn)
        assert self.greet().refusal == r.OK
        assert self.arm(lap=lap).refusal == r.OK
        self.steps(60)
        assert self.run(target, 50000000).refusal == r.OK
        self.steps(seconds * 100)
        assert self.controller.state == messages.RUNNING, self.reason()

    def reason(self) -> str:
        return r.name_of(self.controller.motion.reason)

    # The bench's side

    def steps(self, count: int) -> None:
        """Let `count` control steps of 10 ms pass."""
        for _ in range(count):
            self.step()

    def until(self, state: int, most_ms: int) -> int:
        """Step until the controller is in `state`; the ms it took. AssertionError after `most_ms`."""
        start = self.now_ms
        while self.controller.state != state:
            assert self.passed(start) <= most_ms, self.reason()
            self.step()
        return self.passed(start)

    def until_rest(self, most_ms: int) -> int:
        """Step until the table has stopped; the ms it took."""
        start = self.now_ms
        while self.speed > 0:
            assert self.passed(start) <= most_ms, (self.reason(), self.speed)
            self.step()
        return self.passed(start)

    def passed(self, start: int) -> int:
        return (self.now_ms - start) & 0xFFFFFFFF

    def step(self) -> None:
        c = self.controller
        powered = (c.enable and not self.relay_dead and not self.estop_open) or self.relay_welded
        self.move(powered)
        self.now_ms = (self.now_ms + 10) & 0xFFFFFFFF
        c.inputs(self.load if powered else 0, self.estop_open, self.pedal, powered)
        c.step(self.now_ms)
        assert 0 <= c.speed_out_mrpm <= c.settings.ceiling_mrpm
        for payload in c.take_payloads():
            self.hear(payload)
        if self.host_alive and c.state == messages.RUNNING and self.passed(self._renew_at) >= 150:
            self._renew_at = self.now_ms
            self.say(messages.Renew(TOKEN, self.status_at))

    def move(self, powered: bool) -> None:
        """Ten milliseconds of turning, edge by edge."""
        if self.runaway_mrpm_s and powered:
            self.speed += self.runaway_mrpm_s // 100
        elif self.jammed:
            self.speed = max(0, self.speed - 2000)
        elif powered:
            asked = self.controller.speed_out_mrpm if self.stuck_at < 0 else self.stuck_at
            asked = asked * (1000 - self.slip_permille) // 1000
            self.speed += (asked - self.speed) // 8 if abs(asked - self.speed) >= 8 else asked - self.speed
        else:
            self.speed = max(0, self.speed - 500)
        self.fastest = max(self.fastest, self.speed)
        self.angle = self.turn(0, self.angle, self.speed * 10, self.controller.settings.table_edges_per_turn)
        lap_step = self.speed * self.lap_ratio // 100
        self.lap_angle = self.turn(1, self.lap_angle, lap_step, self.controller.settings.lap_edges_per_turn)

    def turn(self, sensor: int, angle: int, step: int, per_turn: int) -> int:
        gap = ONE_TURN // per_turn
        target = (angle // gap + 1) * gap
        after = angle + step
        while step and target <= after:
            stamp = self.now_ms * 1000 + (target - angle) * 10000 // step
            if (self.table_sensor if sensor == 0 else self.lap_sensor) and self.roll() >= self.lost_permille:
                self.controller.edge(sensor, stamp & 0xFFFFFFFF)
            if sensor == 0 and self.roll() < self.glitch_permille:
                self.controller.edge(0, (stamp + self.glitch_us) & 0xFFFFFFFF)
            target += gap
        return after

    def roll(self) -> int:
        self._dice = (self._dice * 1103515245 + 12345) & 0x7FFFFFFF
        return (self._dice >> 8) % 1000

    def hear(self, payload: bytes) -> None:
        header, message = codec.decode(payload)
        self.epoch = header.epoch
        if isinstance(message, messages.Status):
            self.status = message
            self.status_at = header.t_ms
        elif isinstance(message, messages.Edges):
            self.edge_frames.append((self.now_ms, message))
        elif message is not None:
            self.log.append((self.now_ms, message))
