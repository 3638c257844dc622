"""Whether the table may turn, and how fast: the states, the stops and the checks, without any message.

    disarmed -- arm --> armed -- run --> running -- any stop --> slowing -- power off --> disarmed
                                            |                       |
                                            |                       +-- latched reason --> tripped
                                            +---- power_off stop, latched reason --------> tripped
    tripped -- reset, naming the fault, at rest, cause gone --> disarmed

The drive has power in running and slowing only. Times are the board's uptime in ms, which does not wrap.
None of this is a safety-rated function.
"""

from firmware_protocol import reasons as r
from firmware_protocol.edges import EdgeLine
from firmware_protocol.lease import Permit
from firmware_protocol.messages import ARMED, DISARMED, RUNNING, SLOWING, TRIPPED
from firmware_protocol.order_limits import arm_refusal, end_refusal, speed_refusal
from firmware_protocol.pedal import Pedal
from firmware_protocol.plausibility import TICK_MS, Plausibility
from firmware_protocol.power import PowerWatch
from firmware_protocol.ramp import Ramp, mrpm_per_s
from firmware_protocol.settings import Settings
from firmware_protocol.table_speed import TableSpeed

ARM_VALID_MS = 10000
RUN_NOT_BEFORE_MS = 500
STANDSTILL_MS = 300
STANDSTILL_MRPM = 2000
SHORTEST_PLANNED_MS = 1000


class Motion:
    """The table's state machine. Orders give a refusal of `reasons` (0: done) and a detail."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.settings_changed = False
        self.state = DISARMED
        self.enable = False
        self.contactor = True
        self.reason = r.NONE
        self.stop_kind = r.NOT_STOPPED
        self.run_ms = 0
        self.end_after_ms = 0
        self.call_after_ms = 0
        self.stopped_at = 0
        self.up_ms = 0
        self.load = 0
        self.estop_open = False
        self.readback = False
        self.ramp = Ramp()
        self.permit = Permit()
        self.pedal = Pedal()
        self.power = PowerWatch()
        self.stop_speeds = (0, 0, 0)
        self._pedal_open = False
        self._armed_at = 0
        self._ceiling = 0
        self._load_limit = 0
        self._lap_expected = False
        self._last_end_ms = 0
        self._power_off_in_ms = 0
        self._still_ms = 0
        self._tick_ms = 0
        self.lap = EdgeLine(settings.debounce_us)
        self.table_line = EdgeLine(settings.debounce_us)
        self.table = TableSpeed(settings.table_edges_per_turn)
        self.checks = Plausibility(settings.table_edges_per_turn)

    def refit(self, settings: Settings) -> None:
        """Take new settings, while disarmed only. The running numbers of the edges go on."""
        before = self.table
        self.settings = settings
        self.settings_changed = True
        self.lap.debounce_us = settings.debounce_us
        self.table_line.debounce_us = settings.debounce_us
        self.table = TableSpeed(settings.table_edges_per_turn)
        self.table.since_ms = before.since_ms
        self.table.bad = before.bad
        self.checks = Plausibility(settings.table_edges_per_turn)

    # Orders

    def arm(self, ceiling: int, load_limit: int, lap_expected: bool) -> tuple[int, int]:
        """First of the two acts that start the table; it moves nothing."""
        s = self.settings
        if self.state != DISARMED:
            return (r.FAULT_LATCHED, self.reason) if self.state == TRIPPED else (r.WRONG_STATE, self.state)
        refusal, detail = arm_refusal(s, ceiling, load_limit)
        if refusal:
            return refusal, detail
        refusal = self._cause_there()
        if refusal:
            return refusal, 0
        self.state = ARMED
        self.reason = r.NONE
        self.stop_kind = r.NOT_STOPPED
        self._armed_at = self.up_ms
        self._ceiling = ceiling
        self._load_limit = load_limit
        self._lap_expected = lap_expected and bool(s.lap_sensor_fitted)
        return r.OK, 0

    def _cause_there(self) -> int:
        if self.estop_open:
            return r.ESTOP_IS_OPEN
        if self.settings.pedal_fitted and (self.pedal.pressed or self._pedal_open):
            return r.PEDAL_PRESSED
        if self.readback:
            return r.POWER_IS_ON
        return r.OK if self.table.at_rest() else r.TABLE_MOVING

    def run(self, target: int, call_after: int, end_after: int, standing: int) -> tuple[int, int]:
        """The second act: power on, ramp up. Refused unless armed for 0.5 to 10 s and nothing in the way."""
        if self.state != ARMED:
            return r.WRONG_STATE, self.state
        armed_ms = self.up_ms - self._armed_at
        if armed_ms < RUN_NOT_BEFORE_MS:
            return r.TOO_SOON, RUN_NOT_BEFORE_MS
        if armed_ms >= ARM_VALID_MS:
            return r.ARM_EXPIRED, ARM_VALID_MS
        refusal, detail = speed_refusal(target, self._ceiling)
        if refusal == r.OK:
            refusal, detail = self.set_end(call_after, end_after, standing)
        if refusal == r.OK:
            refusal = self._cause_there()
        if refusal:
            return refusal, detail
        self.state = RUNNING
        self.enable = True
        self.run_ms = 0
        self._tick_ms = 0
        self.power.ordered(self.table)
        self.permit.grant(self.up_ms)
        self.table.restart()
        self.table.judging = True
        self.checks.begin(self._load_limit, self._lap_expected)
        self._head_for(target)
        return r.OK, 0

    def _head_for(self, target: int) -> None:
        self.ramp.head_for(target, self.settings.ramp_up_mrad_s2, self.settings.planned_stop_mrad_s2)

    def set_speed(self, target: int) -> tuple[int, int]:
        """A new speed for a running table; 0 is refused, since it is not a way to stop."""
        if self.state != RUNNING:
            return r.WRONG_STATE, self.state
        refusal, detail = speed_refusal(target, self._ceiling)
        if refusal == r.OK:
            self._head_for(target)
        return refusal, detail

    def set_end(self, call_after: int, end_after: int, standing: int) -> tuple[int, int]:
        """When the board calls for water and when the segment ends, both from the start of the run."""
        if self.state not in (ARMED, RUNNING):
            return r.WRONG_STATE, self.state
        refusal, detail = end_refusal(call_after, end_after, standing)
        if refusal:
            return refusal, detail
        self.call_after_ms = call_after
        self.end_after_ms = end_after
        self._last_end_ms = end_after + standing
        return r.OK, 0

    def reset(self, fault: int) -> tuple[int, int]:
        """Leave tripped: the fault named, the table at rest, the cause gone. It starts nothing."""
        if self.state != TRIPPED:
            return r.WRONG_STATE, self.state
        if fault != self.reason:
            return r.WRONG_FAULT, self.reason
        refusal = self._cause_there()
        if refusal:
            return refusal, 0
        self.state = DISARMED
        self.reason = r.NONE
        self.stop_kind = r.NOT_STOPPED
        self.contactor = True
        return r.OK, 0

    def stop(self, kind: int, reason: int) -> None:
        """Stop, from any state. A stop under way may be made harder, never softer; the first cause stays."""
        if self.state == ARMED:
            self._settle(kind, reason)
        elif self.state == RUNNING:
            self._note(kind, reason)
            if kind >= r.POWER_OFF:
                self._power_off()
            else:
                self._slow_down(kind)
        elif self.state == SLOWING and kind > self.stop_kind:
            if r.latches(reason) and not r.latches(self.reason):
                self._note(kind, reason)
            self.stop_kind = kind
            if kind >= r.POWER_OFF:
                self._power_off()
            else:
                self._slow_down(kind)

    def _note(self, kind: int, reason: int) -> None:
        self.reason = reason
        self.stop_kind = kind
        self.stopped_at += 1
        self.stop_speeds = (self.ramp.now_mrpm, self.table.now_mrpm(), self.load)
        self.permit.end()
        self.table.judging = False

    def _settle(self, kind: int, reason: int) -> None:
        """Stop with nothing turning under power: trip where the reason latches."""
        self._note(kind, reason)
        self.ramp.off()
        self.state = TRIPPED if r.latches(reason) else DISARMED

    def _slow_down(self, kind: int) -> None:
        s = self.settings
        if kind == r.PLANNED:
            rate = s.planned_stop_mrad_s2
            expected = self.ramp.now_mrpm * 1000 // mrpm_per_s(rate)
            limit = max(SHORTEST_PLANNED_MS, expected * 3 // 2)
        else:
            rate = s.fault_stop_mrad_s2
            limit = s.t_ss1_ms
        if self.state != SLOWING or limit < self._power_off_in_ms:
            self._power_off_in_ms = limit
        self.state = SLOWING
        self._still_ms = 0
        self._tick_ms = 0
        self.ramp.head_for(0, s.ramp_up_mrad_s2, rate)

    def _power_off(self) -> None:
        self.enable = False
        self.power.ordered(self.table)
        self.ramp.off()
        self.permit.end()
        self.state = TRIPPED if r.latches(self.reason) else DISARMED

    def trip(self, reason: int) -> None:
        """A fault found by the board itself, in any state."""
        if self.state in (RUNNING, SLOWING):
            self.stop(r.stop_kind_of(reason), reason)
        elif self.state != TRIPPED or reason == r.POWER_NOT_OFF:
            self._settle(r.stop_kind_of(reason), reason)

    # Time

    def edge(self, sensor: int, stamp_us: int) -> None:
        """A rising edge of the table's sensor (0) or the lap's (1)."""
        if sensor:
            self.lap.edge(stamp_us)
            return
        running = self.state == RUNNING or self.state == SLOWING
        if self.table_line.edge(stamp_us):
            limit = self.checks.speed_limit(self._ceiling) if running else 0
            self.table.edge(stamp_us, limit, 4 * mrpm_per_s(self.settings.planned_stop_mrad_s2))
            if running and self.table.overspeed:
                self.trip(r.OVERSPEED)
        else:
            self.table.bounce()

    def sense(self, load: int, estop_open: bool, pedal_open: bool, readback: bool) -> None:
        """What the pins say; judged at the next step."""
        self.load = load
        self.estop_open = estop_open
        self._pedal_open = pedal_open
        self.readback = readback

    def step(self, dt_ms: int) -> bool:
        """One control step; True when a short press of the pedal ended in it."""
        self.table.since_ms += dt_ms
        self.lap.since_ms += dt_ms
        self.table_line.since_ms += dt_ms
        state = self.state
        if self.estop_open and state != DISARMED and state != TRIPPED:
            self.trip(r.ESTOP_OPEN)
        elif state == RUNNING:
            self._run_step(dt_ms)
        elif state == SLOWING:
            self._slow_step(dt_ms)
        elif state == ARMED and self.up_ms - self._armed_at >= ARM_VALID_MS:
            self.state = DISARMED
        readback = self.readback if self.settings.readback_fitted else self.enable
        reason = self.power.step(self.enable, readback, self.load, self.table, dt_ms)
        if reason and reason != self.reason:
            self._power_differs(reason)
        return self._pedal_step(dt_ms)

    def _run_step(self, dt_ms: int) -> None:
        self.run_ms += dt_ms
        self.ramp.step(dt_ms)
        checks = self.checks
        checks.asked(self.ramp.now_mrpm, self.ramp.target_mrpm, dt_ms)
        if not self.permit.live(self.up_ms):
            self.trip(r.PERMIT_EXPIRED)
            return
        if self.run_ms >= self._last_end_ms:
            self.stop(r.PLANNED, r.PLANNED_END)
            return
        self._tick_ms += dt_ms
        reason = 0
        if self._tick_ms >= TICK_MS:
            checks.slacken(self.ramp.now_mrpm, mrpm_per_s(self.settings.planned_stop_mrad_s2), self._tick_ms)
            self._tick_ms = 0
            reason = checks.tick(self.ramp.now_mrpm, self.load, self.table, self.lap)
        reason = reason or checks.sensor_dead(self.table)
        if reason:
            self.trip(reason)

    def _slow_step(self, dt_ms: int) -> None:
        self.ramp.step(dt_ms)
        self._power_off_in_ms -= dt_ms
        self._tick_ms += dt_ms
        if self._tick_ms >= TICK_MS:
            self.checks.slacken(0, mrpm_per_s(self.settings.planned_stop_mrad_s2), self._tick_ms)
            self._tick_ms = 0
            if self.checks.overloaded(self.load):
                self.stop(r.POWER_OFF, r.OVERLOAD)
                return
        if self.ramp.now_mrpm == 0 and self.table.now_mrpm() < STANDSTILL_MRPM:
            self._still_ms += dt_ms
        if self._power_off_in_ms <= 0 or self._still_ms >= STANDSTILL_MS:
            self._power_off()

    def _power_differs(self, reason: int) -> None:
        """Power that stays on: drop the main contactor, and lock the board until it has been serviced."""
        if reason == r.POWER_NOT_OFF:
            self.contactor = False
            if not self.settings.service_lock:
                self.settings = Settings(*self.settings[:-1], 1)
                self.settings_changed = True
        self.trip(reason)

    def _pedal_step(self, dt_ms: int) -> bool:
        if not self.settings.pedal_fitted:
            return False
        pressed = self.pedal.step(self._pedal_open, dt_ms)
        if self.pedal.held() and self.state in (ARMED, RUNNING, SLOWING):
            self.stop(r.CONTROLLED_THEN_OFF, r.PEDAL_STOP)
        if self.pedal.stuck() and self.state in (DISARMED, SLOWING):
            self.trip(r.PEDAL_STUCK)
        return pressed
