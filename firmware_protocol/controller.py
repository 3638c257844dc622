"""The board's state machine: a message, an edge, an input or a tick in; messages and outputs out.

    disarmed --Arm--> armed --Run--> running --any stop--> slowing --power off--> disarmed
                                        |                     |
                                        +--power_off stop--+  +--after a latched reason--> tripped
                                                           +------------------------------> tripped
    tripped --Reset, naming the fault, at rest, cause gone--> disarmed

The host asks, the board decides. It boots disarmed; nothing but Arm followed at least 0.5 s and at most
10 s later by Run starts the table; silence stops it. It holds no clock, no pin and no port, so that the
real board, the simulated bench and the tests run the same code. Whole numbers only.
None of this is a safety-rated function; the emergency stop is a switch in the motor's power path.
"""

from firmware_protocol import messages
from firmware_protocol.settings import Settings

LEASE_MS = 600
STEP_MS = 10
STATUS_PERIOD_MS = 100
EDGE_BATCH_MS = 50
ARM_VALID_MS = 10000
RUN_NOT_BEFORE_MS = 500


class Controller:
    """One board. `now_ms` is the board's millisecond clock, u32, wrapping; never the wall clock.

    Each turn of the caller's loop, in this order:
      1. `receive(payload, now_ms)` for each whole frame, `raw_stop(now_ms)` when the escape was seen
      2. `edge(sensor, stamp_us)` for each rising edge since the last turn, oldest first
      3. `inputs(...)` with what the pins say
      4. `step(now_ms)`, every 10 ms
      5. drive the pins from the outputs; frame and send `take_payloads()`

    Outputs, whole and valid after each call:
      speed_out_mrpm  speed to ask of the drive, 0.001 rpm, 0 to the ceiling
      enable          whether the drive may have power; the caller makes pulses of it, never a level
      contactor       False: also drop the main contactor, since power did not switch off
      call            messages.CALL_*: the pattern for the buzzer (silenced by a short press)
      lamp            messages.CALL_*: the pattern for the lamp (stays until the cause has gone)
      state           messages.DISARMED, ARMED, RUNNING, SLOWING or TRIPPED
      settings, settings_changed   the caller stores the settings when the flag is set, and clears it
      dropped_frames  set by the caller: damaged frames since start, reported in the status
    """

    def __init__(
        self,
        settings: Settings | None,
        board_id: str = "bench",
        firmware_id: str = "benchctl 0.1",
        boot_counter: int = 1,
        reset_cause: int = messages.POWER_ON,
    ) -> None:
        """`settings` None means that none sound were stored: low ceiling, locked. Texts: 16 ASCII."""
        raise NotImplementedError

    def receive(self, payload: bytes, now_ms: int) -> None:
        """Act on one whole, checked payload. Anything it cannot accept is refused with a reply or ignored."""
        raise NotImplementedError

    def raw_stop(self, now_ms: int) -> None:
        """The stop from a bare terminal (frames.RawStop saw it)."""
        raise NotImplementedError

    def edge(self, sensor: int, stamp_us: int) -> None:
        """A target passed: messages.TABLE_SENSOR or LAP_SENSOR, stamped in microseconds, u32, wrapping."""
        raise NotImplementedError

    def inputs(
        self, load_permille: int, estop_open: bool, pedal_pressed: bool, enable_readback: bool
    ) -> None:
        """What the pins say now: motor load in 0.1 %, emergency-stop contact, pedal, drive power present."""
        raise NotImplementedError

    def step(self, now_ms: int) -> None:
        """One control step, nominally every 10 ms; late or doubled steps are allowed."""
        raise NotImplementedError

    def take_payloads(self) -> list[bytes]:
        """What is due to be sent now. Left uncalled while the port is full: old status is lost, replies are not."""
        raise NotImplementedError
