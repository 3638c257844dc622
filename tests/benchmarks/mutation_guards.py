"""The guards of board and host as data: how each is taken out, and the tests of which one must then fail."""

from __future__ import annotations

from typing import NamedTuple

BOARD = (
    "tests/firmware_protocol/test_board_faults.py",
    "tests/firmware_protocol/test_orders.py",
    "tests/firmware_protocol/test_parts.py",
)
RULES = ("tests/guard/test_guard.py", "tests/guard/test_alarms.py")
ENGINE = ("tests/segment/test_engine.py",)
START_CHECKS = ("tests/session/test_start_checks.py",)
AFTER_A_STOP = ("tests/session/test_after_a_stop.py",)
RESPONSES = ("tests/session/test_lap_responses.py",)
CLOCKS = ("tests/session/test_clocks.py",)
ON_DISK = ("tests/stories/test_demo_segment.py::test_the_table_does_not_turn_before_its_start_is_on_disk",)
LIVE = ("tests/session/test_live.py",)
LINK = ("tests/link/test_stop.py", "tests/link/test_board_link.py", "tests/link/test_silence.py")


class Guard(NamedTuple):
    """One guard: the exact text that holds it, what is put in its place, and the tests that hold it."""

    name: str
    file: str
    text: str
    put: str
    tests: tuple[str, ...]


def off(name: str, file: str, condition: str, tests: tuple[str, ...]) -> Guard:
    """A guard that is an `if` (or `elif`): its condition never holds any more."""
    return Guard(name, file, f"if {condition}:", "if False:", tests)


def without(name: str, file: str, text: str, tests: tuple[str, ...]) -> Guard:
    """A guard that is one of several parts of an expression: the part is left out."""
    return Guard(name, file, text, "", tests)


_LEASE = "firmware_protocol/lease.py"
_MOTION = "firmware_protocol/motion.py"
_CHECKS = "firmware_protocol/plausibility.py"
_POWER = "firmware_protocol/power.py"
_DESK = "firmware_protocol/desk.py"
_CONTROLLER = "firmware_protocol/controller.py"
_ORDERS = "firmware_protocol/order_limits.py"
_SPEED = "firmware_protocol/table_speed.py"
_FRAMES = "firmware_protocol/frames.py"
_LAP = "benchctl/guard/lap_rules.py"
_DRY = "benchctl/guard/drying.py"
_STATES = "benchctl/segment/states.py"
_CAUSE = "        refusal = self._cause_there()\n"
_OR_RUNNING = "        if refusal:\n            return refusal, detail\n        self.state = RUNNING"

PERMIT = (
    Guard(
        "the permit expires",
        _LEASE,
        "return self._live and up_ms < self._until_ms",
        "return self._live",
        BOARD,
    ),
    off("a dead permit stays dead", _LEASE, "not self.live(up_ms)", BOARD),
    off("a stale quote is refused", _LEASE, "age < 0 or age > LEASE_MS", BOARD),
    Guard(
        "late renewals carry no further",
        _LEASE,
        "min(LEASE_MS, LEASE_MS + QUOTE_SLACK_MS - age)",
        "LEASE_MS",
        BOARD,
    ),
    off("the board looks at the permit", _MOTION, "not self.permit.live(self.up_ms)", BOARD),
    off("a renewal belongs to its arming", _CONTROLLER, "header.epoch != self._desk.epoch", BOARD),
    off("a RUN that was held back is stale", _CONTROLLER, "age < 0 or age > LEASE_MS", BOARD),
)

STARTS = (
    Guard(
        "arming only while disarmed",
        _MOTION,
        "if self.state != DISARMED:\n            return (r.FAULT_LATCHED",
        "if False:\n            return (r.FAULT_LATCHED",
        BOARD,
    ),
    Guard(
        "arming looks for a cause",
        _MOTION,
        _CAUSE + "        if refusal:\n            return refusal, 0\n        self.state = ARMED",
        "        self.state = ARMED",
        BOARD,
    ),
    Guard("a pressed emergency stop forbids", _MOTION, "if self.estop_open:\n", "if False:\n", BOARD),
    off(
        "a pressed pedal forbids",
        _MOTION,
        "self.settings.pedal_fitted and (self.pedal.pressed or self._pedal_open)",
        BOARD,
    ),
    Guard("power that is on forbids", _MOTION, "if self.readback:\n", "if False:\n", BOARD),
    Guard(
        "a turning table forbids",
        _MOTION,
        "return r.OK if self.table.at_rest() else r.TABLE_MOVING",
        "return r.OK",
        BOARD,
    ),
    off("RUN only when armed", _MOTION, "self.state != ARMED", BOARD),
    off("RUN not at once", _MOTION, "armed_ms < RUN_NOT_BEFORE_MS", BOARD),
    off("RUN not too late", _MOTION, "armed_ms >= ARM_VALID_MS", BOARD),
    Guard(
        "RUN looks for a cause",
        _MOTION,
        "        if refusal == r.OK:\n    " + _CAUSE + _OR_RUNNING,
        _OR_RUNNING,
        BOARD,
    ),
    off(
        "armed ends by itself",
        _MOTION,
        "state == ARMED and self.up_ms - self._armed_at >= ARM_VALID_MS",
        BOARD,
    ),
    off("a speed is set while running only", _MOTION, "self.state != RUNNING", BOARD),
    off("an end is set while armed or running", _MOTION, "self.state not in (ARMED, RUNNING)", BOARD),
    off("reset while tripped only", _MOTION, "self.state != TRIPPED", BOARD),
    off("reset names the fault", _MOTION, "fault != self.reason", BOARD),
    Guard(
        "reset looks for a cause",
        _MOTION,
        _CAUSE + "        if refusal:\n            return refusal, 0\n        self.state = DISARMED",
        "        self.state = DISARMED",
        BOARD,
    ),
    off("the service lock", _ORDERS, "settings.service_lock", BOARD),
    off("no ceiling above the board's", _ORDERS, "ceiling > settings.ceiling_mrpm", BOARD),
    off(
        "no load limit above the board's",
        _ORDERS,
        "not 0 < load_limit <= settings.load_limit_permille",
        BOARD,
    ),
    off("no speed of 0", _ORDERS, "target < LEAST_MRPM", BOARD),
    Guard(
        "no speed above the ceiling",
        _ORDERS,
        "return (r.ABOVE_CEILING, ceiling) if target > ceiling else (r.OK, 0)",
        "return r.OK, 0",
        BOARD,
    ),
    off(
        "no endless run",
        _ORDERS,
        "not (0 < end_after <= LONGEST_RUN_MS and 0 <= call_after <= LONGEST_RUN_MS)",
        BOARD,
    ),
)

STOPS = (
    off(
        "an open emergency stop", _MOTION, "self.estop_open and state != DISARMED and state != TRIPPED", BOARD
    ),
    off("the end that the board knows", _MOTION, "self.run_ms >= self._last_end_ms", BOARD),
    off("overspeed", _MOTION, "running and self.table.overspeed", BOARD),
    without(
        "a dead table sensor", _MOTION, "        reason = reason or checks.sensor_dead(self.table)\n", BOARD
    ),
    Guard(
        "power off after T_SS1",
        _MOTION,
        "if self._power_off_in_ms <= 0 or self._still_ms >= STANDSTILL_MS:",
        "if self._still_ms >= STANDSTILL_MS:",
        BOARD,
    ),
    off("overload while slowing", _MOTION, "self.checks.overloaded(self.load)", BOARD),
    Guard("the contactor", _MOTION, "            self.contactor = False\n", "", BOARD),
    off("a relay that welded locks", _MOTION, "not self.settings.service_lock", BOARD),
    off("a held pedal", _MOTION, "self.pedal.held() and self.state in (ARMED, RUNNING)", BOARD),
    off("a stuck pedal", _MOTION, "self.pedal.stuck() and self.state in (DISARMED, SLOWING)", BOARD),
    Guard(
        "a stop never softer",
        _MOTION,
        "elif self.state == SLOWING and kind > self.stop_kind:",
        "elif self.state == SLOWING:",
        BOARD,
    ),
    Guard(
        "a stop at once trips",
        _MOTION,
        "        self.permit.end()\n        self.state = TRIPPED if r.latches(self.reason) else DISARMED",
        "        self.permit.end()\n        self.state = DISARMED",
        BOARD,
    ),
    without("overload", _CHECKS, "self.overloaded(load)\n            or ", BOARD),
    without(
        "a stalled motor", _CHECKS, "            or self._stalled(set_mrpm, speed, load, table)\n", BOARD
    ),
    without("a lap that grabs", _CHECKS, "            or self._grabbed(speed, load)\n", BOARD),
    without("a lap that is gone", _CHECKS, "            or self._lap_gone(load, lap)\n", BOARD),
    without("a noisy table sensor", _CHECKS, "            or self._noisy(table)\n", BOARD),
    without(
        "a drive that does not follow",
        _CHECKS,
        "            or self._follows(set_mrpm, speed, load, table)\n",
        BOARD,
    ),
    Guard("a belt that slips", _CHECKS, "return reasons.BELT_SLIP if slip else ", "return ", BOARD),
    Guard(
        "power not on, power not off",
        _POWER,
        "if self._unlike_ms >= ANSWER_MS:",
        "if False:",
        BOARD,
    ),
    without("current after power-off", _POWER, "self._current_ms >= CURRENT_MS or ", BOARD),
    without("a table that speeds up after power-off", _POWER, " or self._faster_ms >= FASTER_MS", BOARD),
)

WIRE = (
    off(
        "orders from the owner only",
        _CONTROLLER,
        "not self._desk.is_owner(message[0], self.motion.up_ms)",
        BOARD,
    ),
    off(
        "the owner is not replaced while it drives",
        _DESK,
        "self.token and (busy or up_ms - self._heard_at < SILENT_OWNER_MS)",
        BOARD,
    ),
    off("orders of this epoch only", _DESK, "epoch != self.epoch", BOARD),
    off(
        "an order acts once",
        _DESK,
        "self._newest >= 0 and not 1 <= (seq - self._newest) & 0xFFFF <= NEWER_MOST",
        BOARD,
    ),
    off("settings only while disarmed", _CONTROLLER, "motion.state != DISARMED", BOARD),
    off("settings only at rest", _CONTROLLER, "not motion.table.at_rest()", BOARD),
    off("the old setting is quoted", _CONTROLLER, "old != write.old_value", BOARD),
    off("settings within their limits", _CONTROLLER, "not row[3] <= write.new_value <= row[4]", BOARD),
    off(
        "the same protocol",
        _CONTROLLER,
        "header.version != messages.VERSION",
        (*BOARD, "tests/firmware_protocol/test_messages.py"),
    ),
    off("the same tables", _CONTROLLER, "hello.schema != codec.SCHEMA_HASH", (*BOARD, *LINK)),
    off(
        "the frame's checksum",
        _FRAMES,
        'binascii.crc32(payload) & 0xFFFFFFFF != int.from_bytes(data[-4:], "little")',
        ("tests/firmware_protocol/test_frames.py",),
    ),
    off(
        "stored settings' checksum",
        "firmware_protocol/settings.py",
        'binascii.crc32(body) & 0xFFFFFFFF != int.from_bytes(stored[-4:], "little")',
        BOARD,
    ),
    Guard(
        "a late step makes no jump",
        "firmware_protocol/ramp.py",
        "if dt_ms > LONGEST_STEP_MS:",
        "if False:",
        BOARD,
    ),
    Guard(
        "one fast gap is not believed",
        _SPEED,
        "            self._suspects = 1\n",
        "            self.overspeed = True\n",
        BOARD,
    ),
)

HOST = (
    off("a stalled lap", _LAP, 'sight.verdict.state != "stalled"', RULES)._replace(put="if True:"),
    off("a lap that stops in each cycle", _LAP, "self._lasted(self._stopping_since, sight)", RULES),
    off("a lap that jerks hard", _LAP, "self._lasted(self._hard_since, sight)", RULES),
    off("a silent lap sensor stops", _LAP, "silent_s >= limits.signal_stop_s", RULES),
    off("a silent lap sensor slows", _LAP, "silent_s >= limits.signal_ease_s", RULES),
    Guard(
        "watching ends",
        _LAP,
        "watched is not None and sight.now_s - watched < limits.watching_s",
        "watched is not None",
        RESPONSES,
    ),
    off("a lap off its post", _LAP, "ratio is not None and ratio < self.limits.load_gone_share", RULES),
    off("a lap that falls in spite of water", _LAP, "left_s <= 0.0", RULES),
    off("a dry lap stops", _DRY, "climbing_s >= limits.dry_stop_after_s", RULES),
    off("a dry lap slows", _DRY, "climbing_s >= limits.dry_ease_after_s", RULES),
    Guard(
        "a full disk stops",
        "benchctl/guard/disk.py",
        "waited_s >= STOP_AFTER_S else [found]",
        "False else [found]",
        RULES,
    ),
    Guard(
        "stops go first",
        "benchctl/guard/guard.py",
        "return sorted(found, key=lambda finding: finding.trip is None)",
        "return found[::-1]",
        RULES,
    ),
    off(
        "nothing is judged at rest",
        "benchctl/guard/guard.py",
        "sight.table_rpm < self.limits.turning_rpm",
        RULES,
    ),
    off(
        "a reset waits for the cause to go",
        "benchctl/guard/alarms.py",
        "any(held.active for held in latched)",
        RULES,
    ),
    off(
        "a reset waits for the acknowledgement",
        "benchctl/guard/alarms.py",
        "not all(held.acknowledged for held in latched)",
        RULES,
    ),
    off("only advice is shelved", "benchctl/guard/alarms.py", "held.row.priority != ADVICE", RULES),
    off(
        "nothing is shelved for long",
        "benchctl/guard/alarms.py",
        "not (math.isfinite(for_s) and 0.0 < for_s <= MOST_SHELVED_S)",
        RULES,
    ),
    off(
        "no arming over a latched stop", "benchctl/session/start_checks.py", "not book.latched", AFTER_A_STOP
    )._replace(put="if True:"),
    off(
        "no arming for loose weights",
        "benchctl/session/start_checks.py",
        "plan.work_rpm <= highest",
        START_CHECKS,
    )._replace(put="if True:"),
    off(
        "no arming above the board's ceiling",
        "benchctl/session/start_checks.py",
        "board is None or plan.work_rpm <= board.ceiling_rpm",
        START_CHECKS,
    )._replace(put="if True:"),
    off(
        "no faster while the lap settles",
        "benchctl/session/acting.py",
        'self._bench.engine.allows(On.FASTER) and self._bench.verdict.state == "settling"',
        RESPONSES,
    ),
    Guard(
        "renewals are earned by the face",
        "benchctl/session/runner.py",
        "if face_ok and now_s",
        "if now_s",
        LIVE,
    ),
    Guard(
        "the start is on disk before RUN",
        "benchctl/session/orders.py",
        "if bench.books.may_start():",
        "if True:",
        ON_DISK,
    ),
    off("STOP goes before other acts", "benchctl/session/runner.py", "done.act is Act.STOP", LIVE),
    off(
        "sleep ends the segment",
        "benchctl/session/runner.py",
        'news.name == "computer_slept" and self.engine.turning',
        CLOCKS,
    ),
    Guard(
        "a board that fell silent",
        "benchctl/link/silence.py",
        "return self._listened_s is not None and self._listened_s > SILENT_S",
        "return False",
        LINK,
    ),
    Guard(
        "an old setting is not believed",
        "benchctl/link/board.py",
        " and load(store(message)) is not None",
        "",
        LINK,
    ),
    Guard(
        "a late RUN is given up",
        "benchctl/link/orders.py",
        'self.asked_s >= (RUN_PATIENCE_S if self.name == "run" else PATIENCE_S)',
        "self.asked_s >= 60.0",
        ("tests/link/test_orders.py",),
    ),
    Guard(
        "an exception stops the table",
        "benchctl/session/live.py",
        "            self._last_stop(start_s)\n",
        "",
        LIVE,
    ),
)

LIMITS = tuple(
    without(f"the time limit of '{name.lower()}'", _STATES, row, ENGINE)
    for name, row in (
        ("ARMED", '    S.ARMED: Limit(10.0, "armed is valid for ten seconds"),\n'),
        ("STARTING", '    S.STARTING: Limit(4.0, "the board did not start"),\n'),
        ("CREEP", '    S.CREEP: Limit(240.0, "the lap did not turn true"),\n'),
        ("OFFERED", '    S.OFFERED: Limit(120.0, "nobody let it speed up"),\n'),
        ("RAMP", '    S.RAMP: Limit(180.0, "the speed was not reached"),\n'),
        ("HELD", '    S.HELD: Limit(180.0, "nobody came back"),\n'),
        ("WAITING", '    S.WAITING: Limit("wait_unanswered_s", "nobody wetted the work"),\n'),
        ("STOPPING", '    S.STOPPING: Limit(30.0, "the table was not seen to come to rest"),\n'),
        ("SLOW_DOWN", '    S.SLOW_DOWN: Limit(30.0, "the table did not come to rest"),\n'),
    )
)

GUARDS: tuple[Guard, ...] = (*PERMIT, *STARTS, *STOPS, *WIRE, *HOST, *LIMITS)
