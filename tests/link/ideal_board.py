"""The real controller on an ideal table that turns exactly as it is told, at the far end of a cable.

No plant: what is tried here is the link. One control step every 10 ms of stepped time.
"""

from __future__ import annotations

from collections.abc import Callable

from benchctl.errors import LinkLost
from benchctl.link.board import BoardLink
from benchctl.link.orders import RENEW_EVERY_S
from benchctl.link.transport import Transport
from benchctl.models.readings import Reading, Refused
from benchctl.simulator.cable import Cable
from firmware_protocol import frames, messages, reason_names
from firmware_protocol.controller import Controller
from firmware_protocol.settings import DEFAULTS, Settings

STEP_S = 0.01
MASK32 = 0xFFFFFFFF
OWNER = 4711


class IdealBoard:
    """Controller, table and cable. `start_ms` is what the board's clock shows at time 0."""

    def __init__(
        self,
        *,
        seed: int = 1,
        latency_s: float = 0.001,
        start_ms: int = 5000,
        settings: Settings | None = DEFAULTS,
        boot_counter: int = 1,
    ) -> None:
        self.cable = Cable(seed, latency_s)
        self.start_ms = start_ms
        self.now_s = 0.0
        self.silent = False
        self.pedal = False
        self.estop = False
        self.slowing_at_s: float | None = None
        self._ticks = 0
        self._settings = settings
        self._boots = boot_counter
        self._boot(messages.POWER_ON, start_ms)

    def restart(self) -> None:
        """The board loses its supply and comes back: clock, counters and owner begin anew."""
        self._boots += 1
        self._boot(messages.BROWN_OUT, 0)
        self.start_ms = -round(self.now_s * 1000.0)

    def _boot(self, cause: int, now_ms: int) -> None:
        self.controller = Controller(self._settings, "ideal", "test 1", self._boots, cause)
        self.controller.step(now_ms & MASK32)
        self._frames, self._raw_stop = frames.FrameReader(), frames.RawStop()
        self.turned = 0.0
        self._edges = [0, 0]

    @property
    def state(self) -> str:
        """The state's name."""
        return str(reason_names.STATE_NAMES[self.controller.state])

    def advance(self, to_s: float) -> None:
        """Live until `to_s`."""
        while self._ticks < round(to_s / STEP_S):
            self._ticks += 1
            self.now_s = self.cable.now_s = self._ticks * STEP_S
            self._tick()

    def _tick(self) -> None:
        controller, now_ms = self.controller, (self.start_ms + round(self.now_s * 1000.0)) & MASK32
        data = self.cable.board_reads()
        if self._raw_stop.feed(data):
            controller.raw_stop(now_ms)
        for payload in self._frames.feed(data):
            controller.receive(payload, now_ms)
        before, self.turned = self.turned, self.turned + controller.speed_out_mrpm / 60000.0 * STEP_S
        self._turn(before)
        controller.inputs(100, self.estop, self.pedal, controller.enable)
        controller.step(now_ms)
        if controller.state == messages.SLOWING and self.slowing_at_s is None:
            self.slowing_at_s = self.now_s
        said = b"".join([frames.encode(payload) for payload in controller.take_payloads()])
        if said and not self.silent:
            self.cable.board_writes(said)

    def _turn(self, before: float) -> None:
        per_turn = (
            self.controller.settings.table_edges_per_turn,
            self.controller.settings.lap_edges_per_turn,
        )
        for sensor, count in enumerate(per_turn):
            while (self._edges[sensor] + 1) / count <= self.turned:
                self._edges[sensor] += 1
                share = (self._edges[sensor] / count - before) / (self.turned - before)
                at_us = self.start_ms * 1000 + round((self.now_s - STEP_S * (1.0 - share)) * 1e6)
                self.controller.edge(sensor, at_us & MASK32)


class Session:
    """A link and an ideal board, stepped together; `heard` keeps all readings."""

    def __init__(
        self,
        board: IdealBoard | None = None,
        owner: int = OWNER,
        step_s: float = 0.03,
        transport: Transport | None = None,
    ) -> None:
        self.board = board or IdealBoard()
        self.link = BoardLink(transport or self.board.cable.host, owner)
        self.step_s = step_s
        self.now_s = self.board.now_s
        self.heard: list[Reading] = []
        self.renewing = False
        self._renewed_s = 0.0

    def step(self) -> list[Reading]:
        """One step of both."""
        self.now_s += self.step_s
        self.board.advance(self.now_s)
        came = self.link.poll(self.now_s)
        if self.renewing and self.now_s - self._renewed_s >= RENEW_EVERY_S - 1e-9:
            self._renewed_s = self.now_s
            self.link.renew(self.now_s)
        self.heard += came
        return came

    def live(self, seconds: float) -> list[Reading]:
        """Some time; the readings of it."""
        before, until_s = len(self.heard), self.now_s + seconds
        while self.now_s < until_s - 1e-9:
            self.step()
        return self.heard[before:]

    def until(self, seen: Callable[[], bool], limit_s: float = 5.0) -> float:
        """Step until it is so; how long that took. Fails after `limit_s`."""
        start_s = self.now_s
        while not seen():
            assert self.now_s - start_s < limit_s, f"not within {limit_s} s"
            self.step()
        return self.now_s - start_s

    def all(self, kind: type) -> list[Reading]:
        """The readings of a kind so far."""
        return [reading for reading in self.heard if isinstance(reading, kind)]

    def greet(self) -> None:
        """Until the board is known and takes orders."""
        self.until(lambda: self.link.owned and self.link.settings is not None, 10.0)

    def start(self, rpm: float = 10.0, seconds: float = 0.0) -> None:
        """Greet, arm, run, and turn for some seconds."""
        self.greet()
        self.live(1.5)
        self.link.arm(self.now_s, 45.0)
        self.until(lambda: self.board.state == "armed", 2.0)
        self.live(0.6)
        self.link.run(self.now_s, rpm, 900.0, 960.0, 90.0)
        self.renewing = True
        self.until(lambda: self.board.state == "running", 1.0)
        self.live(seconds)


def refusals(session: Session) -> list[tuple[str, str]]:
    """What was refused so far, and why."""
    return [(r.what, r.why) for r in session.heard if isinstance(r, Refused)]


class DeafCable:
    """The computer's end of a board's cable, on which writing can be made to fail."""

    def __init__(self, board: IdealBoard) -> None:
        self._end = board.cable.host
        self.deaf = False

    def read(self) -> bytes:
        return self._end.read()

    def write(self, data: bytes) -> None:
        if self.deaf:
            raise LinkLost("it takes no bytes")
        self._end.write(data)

    def close(self) -> None:
        self._end.close()
