"""A board of simulated pins: it runs the real controller in the loop that the real board runs, nothing else.

Here are only the things around it: start and restart, the enable line that needs edges, the relay, the
watchdog, the emergency-stop wire and the pedal's contact.
"""

from __future__ import annotations

from benchctl.simulator.constants import BenchConstants
from firmware_protocol import frames, messages, reason_names
from firmware_protocol.controller import Controller
from firmware_protocol.settings import DEFAULTS, Settings, with_value

MASK32 = 0xFFFFFFFF
TABLE_EDGES_ID = 1
LAP_EDGES_ID = 2


class SimulatedBoard:
    """Bytes and pins in, bytes and pins out, stepped at every control step. Times in seconds of the bench.

    Pins to set: `estop_pressed`, `pedal_pressed`, `relay_welded`. Outputs: `powered`, `command_rpm`.
    """

    def __init__(
        self, constants: BenchConstants, settings: Settings | None = None, board_id: str = "simulated"
    ) -> None:
        self._constants = constants
        if settings is None:
            settings = with_value(DEFAULTS, TABLE_EDGES_ID, constants.table_sensor.targets)
            settings = with_value(settings, LAP_EDGES_ID, constants.lap_sensor.targets)
        self.settings: Settings = settings
        self._board_id = board_id
        self._boots = 0
        self.estop_pressed = False
        self.pedal_pressed = False
        self.relay_welded = False
        self._closed = False
        self._hung_s: float | None = None
        self._booting_until_s = 0.0
        self.powered = False
        self.command_rpm = 0.0
        self._boot(messages.POWER_ON, 0.0)

    def restart(self, cause: int, now_s: float) -> None:
        """Restart the firmware for one of `RESET_CAUSE_NAMES`; it says nothing for a moment."""
        self._booting_until_s = now_s + self._constants.boot_s
        self._boot(cause, self._booting_until_s)

    def _boot(self, cause: int, at_s: float) -> None:
        self._boots += 1
        self.controller = Controller(
            self.settings, board_id=self._board_id, boot_counter=self._boots, reset_cause=cause
        )
        self._frames = frames.FrameReader()
        self._raw_stop = frames.RawStop()
        self._started_s = at_s
        self._hung_s = None

    def hang(self, now_s: float) -> None:
        """The firmware's loop stands still from now on, its pins as they are."""
        if self._hung_s is None:
            self._hung_s = now_s

    def alive(self, now_s: float) -> bool:
        """Whether the firmware's loop runs: it neither hangs nor starts up."""
        return self._hung_s is None and now_s >= self._booting_until_s

    @property
    def state(self) -> str:
        """The controller's state by its name."""
        return str(reason_names.STATE_NAMES[self.controller.state])

    @property
    def call(self) -> str:
        """What the buzzer calls now: none, wet_down, end or fault."""
        return str(reason_names.CALL_NAMES[self.controller.call])

    @property
    def lamp(self) -> str:
        """What the lamp shows now, in the same words."""
        return str(reason_names.CALL_NAMES[self.controller.lamp])

    def step(
        self, now_s: float, received: bytes, edges: list[tuple[float, int]], load_permille: int
    ) -> bytes:
        """One turn of the main loop; `edges` are (time, sensor) since the last one, oldest first."""
        sent = b""
        if self._hung_s is None and now_s >= self._booting_until_s:
            sent = self._loop(now_s, received, edges, load_permille)
        elif self._hung_s is not None and now_s - self._hung_s >= self._constants.watchdog_s:
            self.restart(messages.WATCHDOG, now_s)
        self._drive_pins(now_s)
        return sent

    def _loop(
        self, now_s: float, received: bytes, edges: list[tuple[float, int]], load_permille: int
    ) -> bytes:
        controller, started_s = self.controller, self._started_s
        now_ms = round((now_s - started_s) * 1000.0) & MASK32
        if received:
            if self._raw_stop.feed(received):
                controller.raw_stop(now_ms)
            for payload in self._frames.feed(received):
                controller.receive(payload, now_ms)
            controller.dropped_frames = self._frames.dropped & 0xFFFF
        for at_s, sensor in edges:
            controller.edge(sensor, round((at_s - started_s) * 1e6) & MASK32)
        controller.inputs(load_permille, self.estop_pressed, self.pedal_pressed, self.powered)
        controller.step(now_ms)
        if controller.settings_changed:
            self.settings = controller.settings
            controller.settings_changed = False
        payloads = controller.take_payloads()
        return b"".join([frames.encode(payload) for payload in payloads]) if payloads else b""

    def _drive_pins(self, now_s: float) -> None:
        """The drive has power while edges come on the enable line, or a relay that was closed is welded.

        Never with the contactor open or the emergency stop pressed: they stand in the power's own path.
        """
        controller = self.controller
        powered = controller.enable
        if self._hung_s is not None and now_s - self._hung_s >= self._constants.enable_pulse_s:
            powered = False
        self._closed = powered or (self.relay_welded and self._closed)
        self.powered = self._closed and not self.estop_pressed and controller.contactor
        self.command_rpm = controller.speed_out_mrpm / 1000.0
