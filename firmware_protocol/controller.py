"""The board's state machine as the wire sees it: a message, an edge, an input or a tick in; messages out.

The states, stops and checks are in `motion`; here are the orders, replies, status and calls. It holds no
clock, no pin and no port, so the real board, the simulated bench and the tests run the same code.
The host asks, the board decides. It boots disarmed; nothing but Arm followed at least 0.5 s and at most
10 s later by Run starts the table; silence stops it. Whole numbers only.
None of this is a safety-rated function; the emergency stop is a switch in the motor's power path.
"""

from firmware_protocol import codec, messages
from firmware_protocol import reasons as r
from firmware_protocol.desk import Desk
from firmware_protocol.lease import LEASE_MS, quote_age
from firmware_protocol.messages import ARMED, DISARMED, RUNNING, SLOWING, TRIPPED
from firmware_protocol.motion import Motion
from firmware_protocol.reports import Reports
from firmware_protocol.settings import Settings, row_of, safe_defaults, value_of, with_value

STEP_MS = 10
MASK32 = 0xFFFFFFFF
FIRST_FROM_BOARD = 64
RESET_REASONS = (r.NONE, r.WATCHDOG_RESET, r.BROWN_OUT, r.BOARD_RESET)


class Controller:
    """One board. `now_ms` is the board's millisecond clock, u32, wrapping; never the wall clock.

    Each turn of the caller's loop, in this order:
      1. `receive(payload, now_ms)` for each whole frame, `raw_stop(now_ms)` when the escape was seen
      2. `edge(sensor, stamp_us)` for each rising edge since the last turn, oldest first
      3. `inputs(...)` with what the pins say
      4. `step(now_ms)`, every 10 ms
      5. drive the pins from the outputs; frame and send `take_payloads()`

    Outputs, valid after each call:
      speed_out_mrpm  speed to ask of the drive, 0.001 rpm, 0 to the ceiling
      enable          whether the drive may have power; the caller makes pulses of it, never a level
      contactor       False: also drop the main contactor, since power did not switch off
      call            messages.CALL_*: the pattern for the buzzer (silenced by a short press of the pedal)
      lamp            messages.CALL_*: the pattern for the lamp (a fault's stays until the reset)
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
        self.settings_damaged = settings is None
        self.motion = Motion(safe_defaults() if settings is None else settings)
        self.motion.reason = RESET_REASONS[reset_cause]
        self.call = messages.CALL_NONE
        self.lamp = messages.CALL_NONE
        self.dropped_frames = 0
        self._desk = Desk(boot_counter)
        names = (firmware_id, board_id)
        self._reports = Reports(self.motion, self._desk, names, boot_counter, reset_cause)
        self._started = False
        self._now_ms = 0
        self._stepped_at = 0
        self._reported_state = -1
        self._reported_stop = 0
        self._called = messages.CALL_NONE

    @property
    def speed_out_mrpm(self) -> int:
        """0.001 rpm to ask of the drive; 0 whenever it has no power."""
        return self.motion.ramp.now_mrpm if self.motion.enable else 0

    @property
    def enable(self) -> bool:
        """Whether the drive may have power."""
        return self.motion.enable

    @property
    def contactor(self) -> bool:
        """False after power that did not switch off."""
        return self.motion.contactor

    @property
    def state(self) -> int:
        """One of messages.DISARMED to messages.TRIPPED."""
        return self.motion.state

    @property
    def settings(self) -> Settings:
        """The settings in force, as they should be stored."""
        return self.motion.settings

    @property
    def settings_changed(self) -> bool:
        """The settings differ from what is stored."""
        return self.motion.settings_changed

    @settings_changed.setter
    def settings_changed(self, changed: bool) -> None:
        self.motion.settings_changed = changed

    # In

    def receive(self, payload: bytes, now_ms: int) -> None:
        """Act on one whole, checked payload. Anything it cannot accept is refused with a reply or ignored."""
        self._at(now_ms)
        if len(payload) < codec.HEADER_SIZE:
            return
        header = codec.header_of(payload)
        if header.kind == messages.STOP:
            self._stop(header, payload)
        elif header.kind >= FIRST_FROM_BOARD:
            return
        elif header.version != messages.VERSION:
            if header.kind == messages.HELLO:
                self._reports.identity()
            self._reports.reply(header, r.VERSION_DIFFERS, messages.VERSION)
        else:
            try:
                message = codec.decode(payload)[1]
            except ValueError:
                self._reports.reply(header, r.BAD_LAYOUT, 0)
                return
            if message is None:
                self._reports.reply(header, r.UNKNOWN_KIND, 0)
            else:
                self._obey(header, message)

    def _stop(self, header: messages.Header, payload: bytes) -> None:
        """Any version, epoch, sequence or owner, even with a body that cannot be read."""
        kind, reason = r.CONTROLLED_THEN_OFF, r.HOST_STOP
        if header.version == messages.VERSION and len(payload) == codec.HEADER_SIZE + 3:
            asked, named = (
                payload[codec.HEADER_SIZE],
                int.from_bytes(payload[codec.HEADER_SIZE + 1 :], "little"),
            )
            if r.PLANNED <= asked <= r.POWER_OFF:
                kind = asked
            if r.is_hosts(named):
                reason = named
        self.motion.stop(kind, reason)
        self._reports.reply(header, r.OK, self.motion.reason)

    def _obey(self, header: messages.Header, message: tuple[object, ...]) -> None:
        if isinstance(message, messages.Hello):
            self._hello(header, message)
        elif isinstance(message, messages.Ping):
            self._reports.reply(header, r.OK, message.echo)
        elif isinstance(message, messages.ReadSettings):
            self._reports.send(self.motion.settings)
            self._reports.reply(header, r.OK, message.echo)
        elif not self._desk.is_owner(message[0], self.motion.up_ms):
            self._reports.reply(header, r.NOT_OWNER, 0)
        elif isinstance(message, messages.Renew):
            self._renew(header, message)
        else:
            self._order(header, message)

    def _hello(self, header: messages.Header, hello: messages.Hello) -> None:
        if hello.magic != messages.MAGIC:
            refusal = r.BAD_LAYOUT
        elif hello.major != messages.VERSION:
            refusal = r.VERSION_DIFFERS
        elif hello.schema != codec.SCHEMA_HASH:
            refusal = r.SCHEMA_DIFFERS
        else:
            busy = self.motion.state in (ARMED, RUNNING, SLOWING)
            refusal = self._desk.greet(hello.token, self.motion.up_ms, busy)
        self._reports.identity()
        self._reports.reply(header, refusal, self._desk.epoch)

    def _renew(self, header: messages.Header, renew: messages.Renew) -> None:
        motion = self.motion
        if header.epoch != self._desk.epoch:
            self._reports.reply(header, r.WRONG_EPOCH, self._desk.epoch)
        elif motion.state != RUNNING:
            self._reports.reply(header, r.WRONG_STATE, motion.state)
        elif not motion.permit.renew(renew.board_ms, self._now_ms, motion.up_ms):
            self._reports.reply(header, r.STALE, LEASE_MS)

    def _order(self, header: messages.Header, message: tuple[object, ...]) -> None:
        stored = self._desk.stored(header.kind, header.epoch, header.seq)
        if stored:
            self._reports.queue(stored)
            return
        refusal = self._desk.refusal(header.epoch, header.seq)
        detail = self._desk.epoch
        if refusal == r.OK:
            refusal, detail = self._carry_out(message)
        self._desk.store(header.kind, header.epoch, header.seq, self._reports.reply(header, refusal, detail))

    def _carry_out(self, order: tuple[object, ...]) -> tuple[int, int]:
        """Refusal (0: done) and detail of an order from the owner that is not stale."""
        if isinstance(order, messages.SetSpeed):
            return self.motion.set_speed(order.target_mrpm)
        if isinstance(order, messages.SetEnd):
            return self.motion.set_end(order.call_after_ms, order.end_after_ms, order.standing_ms)
        if isinstance(order, messages.Arm):
            return self._arm(order)
        if isinstance(order, messages.Run):
            return self._run(order)
        if isinstance(order, messages.Reset):
            return self._reset(order)
        if isinstance(order, messages.Call):
            return self._set_call(order)
        if isinstance(order, messages.WriteSetting):
            return self._write_setting(order)
        return r.UNKNOWN_KIND, 0

    def _arm(self, arm: messages.Arm) -> tuple[int, int]:
        refusal, detail = self.motion.arm(arm.ceiling_mrpm, arm.load_limit_permille, arm.lap_expected == 1)
        if refusal:
            return refusal, detail
        self._desk.next_epoch()
        self._signal(messages.CALL_NONE)
        return r.OK, self._desk.epoch

    def _run(self, run: messages.Run) -> tuple[int, int]:
        age = quote_age(run.board_ms, self._now_ms)
        if age < 0 or age > LEASE_MS:
            return r.STALE, LEASE_MS
        self._called = messages.CALL_NONE
        return self.motion.run(run.target_mrpm, run.call_after_ms, run.end_after_ms, run.standing_ms)

    def _reset(self, reset: messages.Reset) -> tuple[int, int]:
        refusal, detail = self.motion.reset(reset.fault)
        if refusal == r.OK:
            self._signal(messages.CALL_NONE)
        return refusal, detail

    def _set_call(self, call: messages.Call) -> tuple[int, int]:
        if call.call > messages.CALL_FAULT:
            return r.OUT_OF_RANGE, messages.CALL_FAULT
        self.call = call.call
        if self.motion.state != TRIPPED:
            self.lamp = call.call
        return r.OK, call.call

    def _write_setting(self, write: messages.WriteSetting) -> tuple[int, int]:
        motion = self.motion
        if motion.state != DISARMED:
            return r.WRONG_STATE, motion.state
        if not motion.table.at_rest():
            return r.TABLE_MOVING, 0
        try:
            row = row_of(write.setting)
        except KeyError:
            return r.OUT_OF_RANGE, 0
        old = value_of(motion.settings, write.setting)
        if old != write.old_value:
            return r.OLD_VALUE_DIFFERS, old
        if not row[3] <= write.new_value <= row[4]:
            return r.OUT_OF_RANGE, row[3] if write.new_value < row[3] else row[4]
        motion.refit(with_value(motion.settings, write.setting, write.new_value))
        self.settings_damaged = False
        return r.OK, write.new_value

    def raw_stop(self, now_ms: int) -> None:
        """The stop from a bare terminal (frames.RawStop saw it)."""
        self._at(now_ms)
        self.motion.stop(r.CONTROLLED_THEN_OFF, r.RAW_STOP)

    def fail(self, now_ms: int) -> None:
        """The caller's loop met an error of ours: power off, tripped, also where nothing turned."""
        self._at(now_ms)
        self.motion.trip(r.CONTROLLER_FAULT)

    def edge(self, sensor: int, stamp_us: int) -> None:
        """A target passed: messages.TABLE_SENSOR or LAP_SENSOR, stamped in microseconds, u32, wrapping."""
        self.motion.edge(sensor, stamp_us & MASK32)

    def inputs(
        self, load_permille: int, estop_open: bool, pedal_pressed: bool, enable_readback: bool
    ) -> None:
        """What the pins say now: motor load in 0.1 %, emergency-stop contact, pedal, drive power present."""
        self.motion.sense(load_permille, estop_open, pedal_pressed, enable_readback)

    def step(self, now_ms: int) -> None:
        """One control step, nominally every 10 ms; late or doubled steps are allowed."""
        self._at(now_ms)
        motion = self.motion
        dt_ms = motion.up_ms - self._stepped_at
        if dt_ms <= 0:
            return
        self._stepped_at = motion.up_ms
        if motion.step(dt_ms):
            self.call = messages.CALL_NONE
            if motion.state != TRIPPED:
                self.lamp = messages.CALL_NONE
            self._reports.hurry()
        if motion.state == RUNNING:
            self._call_in_time(motion.run_ms)
        if motion.state != self._reported_state or motion.stopped_at != self._reported_stop:
            self._report()

    def _call_in_time(self, run_ms: int) -> None:
        if self._called == messages.CALL_NONE and run_ms >= self.motion.call_after_ms:
            self._called = messages.CALL_WET_DOWN
            self._signal(messages.CALL_WET_DOWN)
        if self._called != messages.CALL_END and run_ms >= self.motion.end_after_ms:
            self._called = messages.CALL_END
            self._signal(messages.CALL_END)

    def _signal(self, call: int) -> None:
        self.call = call
        self.lamp = call
        self._reports.hurry()

    def _at(self, now_ms: int) -> None:
        """Move the uptime on to `now_ms`; a clock that steps backwards does not move it."""
        elapsed = (now_ms - self._now_ms) & MASK32 if self._started else STEP_MS
        self._started = True
        if elapsed <= 0x7FFFFFFF:
            self.motion.up_ms += elapsed
        self._now_ms = now_ms & MASK32
        self._reports.now_ms = self._now_ms

    # Out

    def _report(self) -> None:
        """The state changed or a stop began: status at once, and the stop's own message."""
        motion = self.motion
        if motion.stopped_at != self._reported_stop:
            self._reported_stop = motion.stopped_at
            self._reports.stopping()
            if r.latches(motion.reason):
                self._signal(messages.CALL_FAULT)
        self._reported_state = motion.state
        self._reports.hurry()

    def take_payloads(self) -> list[bytes]:
        """What is due to be sent now. Left uncalled while the port is full, old status is lost, no reply."""
        reports = self._reports
        reports.call = self.call
        reports.settings_damaged = self.settings_damaged
        reports.dropped_frames = self.dropped_frames
        return reports.take()
