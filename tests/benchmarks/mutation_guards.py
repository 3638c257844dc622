"""The guards of board and host as data: how each is taken out, and the tests of which one must then fail."""

from __future__ import annotations

from typing import NamedTuple

RULES = ("tests/guard/test_guard.py", "tests/guard/test_alarms.py")
ENGINE = (
    "tests/segment/test_engine.py",
    "tests/campaign/test_machines.py::test_every_state_that_a_person_waits_in_has_a_limit",
)


class Guard(NamedTuple):
    """One guard: the exact text that holds it, what is put in its place, and the tests that hold it."""

    name: str
    file: str
    text: str
    put: str
    tests: tuple[str, ...]


def faults(*names: str) -> tuple[str, ...]:
    """Tests of the board's own checks."""
    return tuple(f"tests/firmware_protocol/test_board_faults.py::{name}" for name in names)


def orders(*names: str) -> tuple[str, ...]:
    """Tests of what the board accepts and refuses."""
    return tuple(f"tests/firmware_protocol/test_orders.py::{name}" for name in names)


def parts(*names: str) -> tuple[str, ...]:
    """Tests of the board's parts by themselves."""
    return tuple(f"tests/firmware_protocol/test_parts.py::{name}" for name in names)


def one(file: str, name: str) -> tuple[str, ...]:
    """One test of a file."""
    return (f"tests/{file}::{name}",)


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
        faults("test_host_dies") + parts("test_permit"),
    ),
    off(
        "a dead permit stays dead",
        _LEASE,
        "not self.live(up_ms)",
        parts("test_permit_is_not_given_by_renewal", "test_permit")
        + orders("test_renewal_after_the_permit_died"),
    ),
    off(
        "a stale quote is refused",
        _LEASE,
        "age < 0 or age > LEASE_MS",
        parts("test_permit", "test_quote_age_across_the_wrap") + orders("test_renewals"),
    ),
    Guard(
        "late renewals carry no further",
        _LEASE,
        "min(LEASE_MS, LEASE_MS + QUOTE_SLACK_MS - age)",
        "LEASE_MS",
        parts("test_permit") + orders("test_renewals"),
    ),
    off(
        "the board looks at the permit", _MOTION, "not self.permit.live(self.up_ms)", faults("test_host_dies")
    ),
    off(
        "a renewal belongs to its arming",
        _CONTROLLER,
        "header.epoch != self._desk.epoch",
        orders("test_renewals"),
    ),
    off(
        "a RUN that was held back is stale",
        _CONTROLLER,
        "age < 0 or age > LEASE_MS",
        orders("test_late_run", "test_run_at_the_last_moment"),
    ),
)

STARTS = (
    Guard(
        "arming only while disarmed",
        _MOTION,
        "if self.state != DISARMED:\n            return (r.FAULT_LATCHED",
        "if False:\n            return (r.FAULT_LATCHED",
        ("tests/campaign/test_board_guards.py",),
    ),
    Guard(
        "arming looks for a cause",
        _MOTION,
        _CAUSE + "        if refusal:\n            return refusal, 0\n        self.state = ARMED",
        "        self.state = ARMED",
        orders("test_arm_refused", "test_arm_refused_while_moving"),
    ),
    Guard(
        "a pressed emergency stop forbids",
        _MOTION,
        "if self.estop_open:\n",
        "if False:\n",
        orders("test_arm_refused", "test_reset_is_not_start") + faults("test_emergency_stop_while_disarmed"),
    ),
    off(
        "a pressed pedal forbids",
        _MOTION,
        "self.settings.pedal_fitted and (self.pedal.pressed or self._pedal_open)",
        orders("test_arm_refused") + faults("test_stuck_pedal"),
    ),
    Guard(
        "power that is on forbids",
        _MOTION,
        "if self.readback:\n",
        "if False:\n",
        orders("test_arm_refused") + faults("test_welded_relay"),
    ),
    Guard(
        "a turning table forbids",
        _MOTION,
        "return r.OK if self.table.at_rest() else r.TABLE_MOVING",
        "return r.OK",
        orders("test_arm_refused_while_moving", "test_run_while_someone_turns_the_table"),
    ),
    off(
        "RUN only when armed",
        _MOTION,
        "self.state != ARMED",
        ("tests/campaign/test_board_guards.py",),
    ),
    off("RUN not at once", _MOTION, "armed_ms < RUN_NOT_BEFORE_MS", orders("test_run_not_at_once")),
    off(
        "RUN not too late",
        _MOTION,
        "armed_ms >= ARM_VALID_MS",
        orders("test_run_at_the_last_moment", "test_arm_lasts_ten_seconds"),
    ),
    Guard(
        "RUN looks for a cause",
        _MOTION,
        "        if refusal == r.OK:\n    " + _CAUSE + _OR_RUNNING,
        _OR_RUNNING,
        orders("test_run_while_someone_turns_the_table"),
    ),
    off(
        "armed ends by itself",
        _MOTION,
        "state == ARMED and self.up_ms - self._armed_at >= ARM_VALID_MS",
        orders("test_arm_lasts_ten_seconds"),
    ),
    off(
        "a speed is set while running only",
        _MOTION,
        "self.state != RUNNING",
        orders("test_set_speed_only_while_running"),
    ),
    off(
        "an end is set while armed or running",
        _MOTION,
        "self.state not in (ARMED, RUNNING)",
        orders("test_orders_out_of_place", "test_moved_end"),
    ),
    off(
        "reset while tripped only",
        _MOTION,
        "self.state != TRIPPED",
        orders("test_reset_is_not_start", "test_orders_out_of_place"),
    ),
    off("reset names the fault", _MOTION, "fault != self.reason", orders("test_reset_is_not_start")),
    Guard(
        "reset looks for a cause",
        _MOTION,
        _CAUSE + "        if refusal:\n            return refusal, 0\n        self.state = DISARMED",
        "        self.state = DISARMED",
        orders("test_reset_is_not_start") + faults("test_emergency_stop_is_reported", "test_stuck_pedal"),
    ),
    off(
        "the service lock",
        _ORDERS,
        "settings.service_lock",
        orders("test_damaged_settings", "test_arm_limits") + faults("test_welded_relay"),
    ),
    off(
        "no ceiling above the board's",
        _ORDERS,
        "ceiling > settings.ceiling_mrpm",
        orders("test_arm_limits", "test_ceiling_of_the_settings"),
    ),
    off(
        "no load limit above the board's",
        _ORDERS,
        "not 0 < load_limit <= settings.load_limit_permille",
        orders("test_arm_limits"),
    ),
    off("no speed of 0", _ORDERS, "target < LEAST_MRPM", orders("test_silly_speeds")),
    Guard(
        "no speed above the ceiling",
        _ORDERS,
        "return (r.ABOVE_CEILING, ceiling) if target > ceiling else (r.OK, 0)",
        "return r.OK, 0",
        orders("test_silly_speeds", "test_ceiling_of_the_settings"),
    ),
    off(
        "no endless run",
        _ORDERS,
        "not (0 < end_after <= LONGEST_RUN_MS and 0 <= call_after <= LONGEST_RUN_MS)",
        orders("test_moved_end", "test_orders_out_of_place", "test_silly_speeds"),
    ),
)

STOPS = (
    off(
        "an open emergency stop",
        _MOTION,
        "self.estop_open and state != DISARMED and state != TRIPPED",
        faults("test_emergency_stop_is_reported"),
    ),
    off(
        "the end that the board knows",
        _MOTION,
        "self.run_ms >= self._last_end_ms",
        orders("test_segment_ends_by_itself"),
    ),
    Guard(
        "no STOP claims what the board finds",
        _CONTROLLER,
        "if r.is_hosts(named):",
        "if True:",
        faults("test_a_stop_cannot_name_what_only_the_board_finds"),
    ),
    off(
        "overspeed",
        _MOTION,
        "running and self.table.overspeed",
        faults("test_runaway", "test_overspeed_while_stopping"),
    ),
    without(
        "a dead table sensor",
        _MOTION,
        "        reason = reason or checks.sensor_dead(self.table)\n",
        faults("test_table_sensor_dead", "test_table_sensor_dead_at_start"),
    ),
    Guard(
        "power off after T_SS1",
        _MOTION,
        "if self._power_off_in_ms <= 0 or self._still_ms >= STANDSTILL_MS:",
        "if self._still_ms >= STANDSTILL_MS:",
        ("tests/campaign/test_board_guards.py",),
    ),
    off(
        "overload while slowing",
        _MOTION,
        "self.checks.overloaded(self.load)",
        faults("test_overload_while_stopping"),
    ),
    Guard("the contactor", _MOTION, "            self.contactor = False\n", "", faults("test_welded_relay")),
    off("a relay that welded locks", _MOTION, "not self.settings.service_lock", faults("test_welded_relay")),
    off(
        "a held pedal",
        _MOTION,
        "self.pedal.held() and self.state in (ARMED, RUNNING, SLOWING)",
        faults("test_pedal_held_stops"),
    ),
    off(
        "a stuck pedal",
        _MOTION,
        "self.pedal.stuck() and self.state in (DISARMED, SLOWING)",
        faults("test_stuck_pedal"),
    ),
    Guard(
        "a stop never softer",
        _MOTION,
        "elif self.state == SLOWING and kind > self.stop_kind:",
        "elif self.state == SLOWING:",
        faults("test_harder_stop_wins"),
    ),
    Guard(
        "a stop at once trips",
        _MOTION,
        "        self.permit.end()\n        self.state = TRIPPED if r.latches(self.reason) else DISARMED",
        "        self.permit.end()\n        self.state = DISARMED",
        faults("test_runaway", "test_overload", "test_lap_grabs"),
    ),
    without(
        "overload",
        _CHECKS,
        "self.overloaded(load)\n            or ",
        faults("test_overload", "test_overload_in_the_ramp"),
    ),
    without(
        "a stalled motor",
        _CHECKS,
        "            or self._stalled(set_mrpm, speed, load, table)\n",
        faults("test_stalled_motor"),
    ),
    without(
        "a lap that grabs",
        _CHECKS,
        "            or self._grabbed(speed, load)\n",
        faults("test_lap_grabs", "test_table_braked_by_the_lap"),
    ),
    without(
        "a lap that is gone",
        _CHECKS,
        "            or self._lap_gone(load, lap)\n",
        faults("test_lap_flies_off"),
    ),
    without(
        "a noisy table sensor",
        _CHECKS,
        "            or self._noisy(table)\n",
        faults("test_noisy_table_sensor", "test_hum_on_the_table_sensor"),
    ),
    without(
        "a drive that does not follow",
        _CHECKS,
        "            or self._follows(set_mrpm, speed, load, table)\n",
        faults("test_drive_not_following", "test_belt_slip"),
    ),
    Guard(
        "a belt that slips",
        _CHECKS,
        "return reasons.BELT_SLIP if slip else ",
        "return ",
        faults("test_belt_slip"),
    ),
    Guard(
        "power not on, power not off",
        _POWER,
        "if self._unlike_ms >= ANSWER_MS:",
        "if False:",
        faults("test_welded_relay", "test_relay_that_does_not_close"),
    ),
    without(
        "current after power-off",
        _POWER,
        "self._current_ms >= CURRENT_MS or ",
        faults("test_power_seen_without_readback"),
    ),
    without(
        "a table that speeds up after power-off",
        _POWER,
        " or self._faster_ms >= FASTER_MS",
        faults("test_speed_seen_without_readback"),
    ),
)

WIRE = (
    off(
        "orders from the owner only",
        _CONTROLLER,
        "not self._desk.is_owner(message[0], self.motion.up_ms)",
        orders("test_two_hosts"),
    ),
    off(
        "the owner is not replaced while it drives",
        _DESK,
        "self.token and (busy or up_ms - self._heard_at < SILENT_OWNER_MS)",
        orders("test_no_take_over_while_running", "test_two_hosts"),
    ),
    off(
        "orders of this epoch only",
        _DESK,
        "epoch != self.epoch",
        orders("test_run_from_before_a_stop", "test_older_order"),
    ),
    off(
        "an order acts once",
        _DESK,
        "self._newest >= 0 and not 1 <= (seq - self._newest) & 0xFFFF <= NEWER_MOST",
        orders("test_the_same_order_twice", "test_older_order", "test_sequence_wraps"),
    ),
    off(
        "settings only while disarmed",
        _CONTROLLER,
        "motion.state != DISARMED",
        orders("test_settings_only_at_rest"),
    ),
    off(
        "settings only at rest",
        _CONTROLLER,
        "not motion.table.at_rest()",
        orders("test_no_setting_while_moving", "test_settings_only_at_rest"),
    ),
    off("the old setting is quoted", _CONTROLLER, "old != write.old_value", orders("test_settings_written")),
    off(
        "settings within their limits",
        _CONTROLLER,
        "not row[3] <= write.new_value <= row[4]",
        orders("test_settings_written", "test_ceiling_of_the_settings"),
    ),
    off(
        "the same protocol",
        _CONTROLLER,
        "header.version != messages.VERSION",
        orders("test_other_version_may_stop_and_look"),
    ),
    off(
        "the same tables",
        _CONTROLLER,
        "hello.schema != codec.SCHEMA_HASH",
        orders("test_schema_that_differs"),
    ),
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
        ("tests/firmware_protocol/test_messages.py::test_settings_store",),
    ),
    Guard(
        "a late step makes no jump",
        "firmware_protocol/ramp.py",
        "if dt_ms > LONGEST_STEP_MS:",
        "if False:",
        parts("test_ramp", "test_ramp_times") + orders("test_clock_that_stands_or_steps_back"),
    ),
    off(
        "gaps that shrink one after the other",
        _SPEED,
        "self._shrinking >= (SHRINKING_MOST if self._size > 3 else 3) and self.noise * 2 < NOISY_AT",
        faults("test_a_runaway_at_twenty_radians_a_second_squared")
        + parts("test_a_runaway_in_the_first_gaps"),
    ),
    Guard(
        "one fast gap is not believed",
        _SPEED,
        "            self._suspects = 1\n",
        "            self.overspeed = True\n",
        parts("test_one_extra_edge", "test_exactly_double"),
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
        one("session/test_lap_responses.py", "test_i_am_watching_is_honoured_for_five_minutes_and_logged"),
    ),
    off(
        "a lap off its post",
        _LAP,
        "read and ratio is not None and ratio < self.limits.load_gone_share",
        RULES,
    ),
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
    Guard(
        "a load near its limit is told",
        "benchctl/guard/load.py",
        "if not self._level.see(sight.load_percent):",
        "if True:",
        ("tests/guard/test_load.py",),
    ),
    off(
        "a load that reads nothing is told",
        "benchctl/guard/load.py",
        "sight.load_percent > self.limits.load_none_percent",
        ("tests/guard/test_load.py",),
    )._replace(put="if True:"),
    Guard(
        "the next stop takes the first cause's place",
        "benchctl/guard/alarms.py",
        "self.first = min(stops)[1] if stops else None",
        "self.first = None",
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
        "no arming over a latched stop",
        "benchctl/session/start_checks.py",
        "not book.latched",
        one("session/test_after_a_stop.py", "test_nothing_moves_after_a_fault_without_reset_arm_and_run"),
    )._replace(put="if True:"),
    off(
        "no arming for loose weights",
        "benchctl/session/start_checks.py",
        "plan.work_rpm <= highest",
        one("session/test_start_checks.py", "test_a_speed_at_which_loose_weights_fly_off_is_refused"),
    )._replace(put="if True:"),
    off(
        "no arming above the board's ceiling",
        "benchctl/session/start_checks.py",
        "board is None or plan.work_rpm <= board.ceiling_rpm",
        one("session/test_start_checks.py", "test_a_board_with_a_lower_ceiling_is_not_armed_for_more"),
    )._replace(put="if True:"),
    off(
        "no faster while the lap settles",
        "benchctl/session/acting.py",
        'self._bench.engine.allows(On.FASTER) and self._bench.verdict.state == "settling"',
        one("session/test_lap_responses.py", "test_no_speed_is_raised_while_the_lap_settles"),
    ),
    Guard(
        "renewals are earned by the face",
        "benchctl/session/runner.py",
        "if face_ok and now_s",
        "if now_s",
        one("session/test_live.py", "test_a_silent_face_ends_the_permit"),
    ),
    Guard(
        "the start is on disk before RUN",
        "benchctl/session/orders.py",
        "if bench.books.may_start():",
        "if True:",
        one("stories/test_demo_segment.py", "test_the_table_does_not_turn_before_its_start_is_on_disk"),
    ),
    off(
        "STOP goes before other acts",
        "benchctl/session/runner.py",
        "done.act is Act.STOP",
        ("tests/campaign/test_host_guards.py",),
    ),
    off(
        "STOP voids what was asked beside it",
        "benchctl/session/runner.py",
        "any(done.act is Act.STOP for done in self._acts)",
        one("session/test_stop_is_final.py", "test_a_stop_voids_what_was_asked_beside_it"),
    ),
    Guard(
        "no renewals once the table is to rest",
        "benchctl/session/runner.py",
        "self.engine.turning or self.engine.state is State.STARTING",
        "self.engine.turning or self.engine.state in (State.STARTING, *ENDING)",
        one("session/test_stop_is_final.py", "test_a_stop_that_the_board_never_hears_ends_the_run_permit"),
    ),
    Guard(
        "rest is called once it was seen",
        "benchctl/session/alarms.py",
        '["lap_standing" if self._rest_seen else REST_UNSEEN]',
        '["lap_standing"]',
        one("session/test_stop_is_final.py", "test_rest_that_was_not_seen_is_not_called_rest"),
    ),
    off(
        "nobody is called to a table with power",
        "benchctl/session/alarms.py",
        "bench.alarms.book.stopped_for(OVER_ALL)",
        one("session/test_stop_is_final.py", "test_nobody_is_called_to_a_table_whose_power_stays_on"),
    ),
    off(
        "sleep ends the segment",
        "benchctl/session/runner.py",
        'news.name == "computer_slept" and self.engine.turning',
        one("session/test_clocks.py", "test_sleep_ends_the_segment_and_nothing_is_resumed"),
    ),
    Guard(
        "a board that fell silent",
        "benchctl/link/silence.py",
        "return self._listened_s is not None and self._listened_s > SILENT_S",
        "return False",
        ("tests/link/test_silence.py",),
    ),
    Guard(
        "an old setting is not believed",
        "benchctl/link/board.py",
        " and load(store(message)) is not None",
        "",
        one("link/test_board_link.py", "test_settings_outside_their_limits_are_not_believed"),
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
        "            self._last_stop()\n",
        "",
        one("session/test_live.py", "test_an_error_in_a_step_stops_the_table"),
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
