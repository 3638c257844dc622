"""What the board does with the messages it gets: who may order, in which state, how often, how late."""

from __future__ import annotations

import pytest

from firmware_protocol import codec, messages
from firmware_protocol import reasons as r
from firmware_protocol.messages import (
    ARMED,
    DISARMED,
    RUNNING,
    SLOWING,
    TRIPPED,
    Arm,
    Call,
    Hello,
    Ping,
    ReadSettings,
    Renew,
    Reset,
    Run,
    SetEnd,
    SetSpeed,
    Stop,
    WriteSetting,
)
from firmware_protocol.settings import DEFAULTS, SETTING_TABLE, with_value
from tests.firmware_protocol.portable.bench import TOKEN, Bench
from tests.firmware_protocol.portable.story import tell

EXPECTED_END = [
    "permit died after 600 ms",
    "arm: fault_latched",
    "wrong reset: wrong_fault",
    "reset: ok",
]


@pytest.fixture
def bench() -> Bench:
    bench = Bench()
    bench.steps(150)
    bench.greet()
    return bench


def armed(bench: Bench) -> Bench:
    assert bench.arm().refusal == r.OK
    bench.steps(60)
    return bench


def test_the_story_is_the_same_across_the_wrap() -> None:
    """Nothing in an evening's work changes when the board's 32-bit clock wraps in the middle of it."""

    def without_time(lines: list[str]) -> list[str]:
        return [line.split(" at=")[0] for line in lines]

    across = without_time(tell())
    assert across == without_time(tell(start_ms=1000))
    assert [line for line in across if line in EXPECTED_END] == EXPECTED_END


def test_identity(bench: Bench) -> None:
    """A greeting is answered with version, schema hash, start counter, limits and names, and an epoch."""
    identity = next(m for _, m in bench.log if isinstance(m, messages.Identity))
    assert (identity.magic, identity.major, identity.schema) == (
        messages.MAGIC,
        messages.VERSION,
        codec.SCHEMA_HASH,
    )
    assert (identity.ceiling_mrpm, identity.lease_ms, identity.board_id) == (45000, 600, "test bench")
    assert bench.epoch > 0


def test_boot_frames_stop_at_the_greeting() -> None:
    """The boot is told three times, a second apart, until a host greets."""
    silent = Bench()
    silent.steps(500)
    assert len([m for _, m in silent.log if isinstance(m, messages.Boot)]) == 3
    greeted = Bench()
    greeted.steps(2)
    greeted.greet()
    greeted.steps(500)
    assert len([m for _, m in greeted.log if isinstance(m, messages.Boot)]) == 1


def test_status_ten_times_a_second(bench: Bench) -> None:
    """Status goes out every 100 ms."""
    before = bench.controller._reports._seq
    bench.steps(1000)
    assert bench.controller._reports._seq - before == 100


def test_answers_that_nobody_reads_do_not_pile_up(bench: Bench) -> None:
    """With the port full for long, the first sixteen answers wait; memory is not used up by more."""
    controller = bench.controller
    for number in range(100):
        controller.receive(codec.encode(Ping(number)), bench.now_ms)
    waiting = [codec.decode(payload)[1] for payload in controller.take_payloads()]
    answers = [message for message in waiting if isinstance(message, messages.Reply)]
    assert [reply.detail for reply in answers] == list(range(16))
    assert len(waiting) == 16


@pytest.mark.parametrize("token", [0, 0x18181818])
def test_tokens_refused(bench: Bench, token: int) -> None:
    """Token 0 is nobody; a token of 0x18 could look like the bare terminal's stop."""
    bench.steps(300)
    assert bench.greet(token).refusal == r.OUT_OF_RANGE


def test_two_hosts(bench: Bench) -> None:
    """A second host is refused while the owner is heard, may stop, and takes over once it is silent."""
    assert bench.greet(77).refusal == r.OWNED_BY_ANOTHER
    assert bench.ask(SetSpeed(77, 5000)).refusal == r.NOT_OWNER
    bench.steps(250)
    assert bench.greet(77).refusal == r.OK
    assert bench.arm().refusal == r.NOT_OWNER


def test_no_take_over_while_running() -> None:
    """A silent owner of a running table is not replaced; anybody's STOP is obeyed."""
    bench = Bench()
    bench.start()
    bench.host_alive = False
    bench.steps(40)
    assert bench.greet(77).refusal == r.OWNED_BY_ANOTHER
    assert bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP), epoch=9, seq=9).refusal == r.OK
    assert bench.controller.state == SLOWING


def test_no_take_over_while_armed(bench: Bench) -> None:
    """The owner of an armed board may be silent for longer than 2 s: nobody else becomes the owner."""
    armed(bench)
    bench.steps(250)
    assert bench.controller.state == ARMED
    assert bench.greet(77).refusal == r.OWNED_BY_ANOTHER


def test_a_new_owner_begins_its_own_numbers(bench: Bench) -> None:
    """After a change of owner a number lower than the last owner's is new, in an epoch of its own."""
    bench.seq = 40_000
    assert bench.ask(Call(TOKEN, 0)).refusal == r.OK
    before = bench.epoch
    bench.steps(250)
    assert bench.greet(77).refusal == r.OK
    assert bench.epoch != before
    assert bench.ask(Call(77, 0), seq=30_000).refusal == r.OK


def test_other_version_may_stop_and_look() -> None:
    """A host of another major version gets status and may stop; it can never arm."""
    bench = Bench()
    bench.start()

    def other(message: tuple[object, ...]) -> None:
        payload = bytearray(codec.encode(message, bench.epoch, 1, 0))
        payload[0] = 9
        bench.controller.receive(bytes(payload), bench.now_ms)
        bench.steps(1)

    other(Ping(1))
    refused = bench.log[-1][1]
    assert isinstance(refused, messages.Reply)
    assert refused.refusal == r.VERSION_DIFFERS
    other(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    assert bench.controller.state == SLOWING
    bench.until(DISARMED, 5000)
    bench.steps(200)
    other(Hello(messages.MAGIC, 5, 9, 0, 0))
    assert any(isinstance(m, messages.Identity) for _, m in bench.log[-2:])
    other(Arm(TOKEN, 45000, 850, 0))
    assert bench.controller.state == DISARMED


def test_schema_that_differs(bench: Bench) -> None:
    """A host with another table of messages does not become the owner."""
    bench.steps(300)
    reply = bench.ask(Hello(messages.MAGIC, 5, messages.VERSION, 0, codec.SCHEMA_HASH ^ 1))
    assert reply.refusal == r.SCHEMA_DIFFERS
    assert bench.arm(token=5).refusal == r.NOT_OWNER


def test_unknown_word_stops_nothing() -> None:
    """A message of a kind the board does not know is refused; the table turns on."""
    bench = Bench()
    bench.start()
    payload = bytearray(codec.encode(Ping(1), bench.epoch, 1, 0))
    payload[1] = 60
    bench.controller.receive(bytes(payload), bench.now_ms)
    bench.steps(100)
    assert [m.refusal for _, m in bench.log if isinstance(m, messages.Reply)][-1] == r.UNKNOWN_KIND
    assert bench.controller.state == RUNNING


def test_own_words_ignored(bench: Bench) -> None:
    """What the board itself says, come back on the line, is not answered: no endless echo."""
    count = len(bench.log)
    bench.say(messages.Reply(1, 1, 1, 0, 0, 0))
    bench.steps(20)
    assert len(bench.log) == count


def test_stop_that_cannot_be_read() -> None:
    """A STOP with a damaged body still stops, as the person's stop."""
    bench = Bench()
    bench.start()
    bench.controller.receive(codec.encode(Stop(1, 1), 0, 0, 0)[:-1], bench.now_ms)
    bench.steps(1)
    assert (bench.controller.state, bench.reason()) == (SLOWING, "host_stop")


def test_arm_limits(bench: Bench) -> None:
    """A job may lower the ceiling and the load limit, never raise them; the reply tells the limit."""
    reply = bench.arm(ceiling=45001)
    assert (reply.refusal, reply.detail) == (r.ABOVE_CEILING, 45000)
    reply = bench.arm(load_limit=851)
    assert (reply.refusal, reply.detail) == (r.OUT_OF_RANGE, 850)
    assert bench.arm(ceiling=10).refusal == r.OUT_OF_RANGE
    assert bench.arm(ceiling=12000).refusal == r.OK
    bench.steps(60)
    reply = bench.run(target=12001)
    assert (reply.refusal, reply.detail) == (r.ABOVE_CEILING, 12000)


@pytest.mark.parametrize(
    ("name", "refusal"),
    [("estop_open", r.ESTOP_IS_OPEN), ("pedal", r.PEDAL_PRESSED), ("relay_welded", r.POWER_IS_ON)],
)
def test_arm_refused(bench: Bench, name: str, refusal: int) -> None:
    """Arm is refused with the emergency stop open, the pedal pressed, or power already on."""
    setattr(bench, name, True)
    bench.steps(10)
    assert bench.arm().refusal == refusal


def test_arm_refused_while_moving(bench: Bench) -> None:
    """Arm is refused while the table is turned by hand, and accepted 1 s after it rests."""
    for _ in range(20):
        bench.speed = 30000
        bench.step()
    assert bench.arm().refusal == r.TABLE_MOVING
    bench.steps(250)
    assert bench.arm().refusal == r.OK


def test_arm_lasts_ten_seconds(bench: Bench) -> None:
    """Armed and left alone, the board disarms after 10 s; a run after that is refused."""
    armed(bench)
    bench.steps(1000)
    assert bench.controller.state == DISARMED
    assert bench.run().refusal == r.WRONG_STATE


def test_run_not_at_once(bench: Bench) -> None:
    """Run sooner than 0.5 s after Arm is refused; the board stays armed."""
    bench.arm()
    bench.steps(40)
    assert bench.run().refusal == r.TOO_SOON
    assert bench.controller.state == ARMED


def test_late_run(bench: Bench) -> None:
    """A Run that quotes a board time older than the lease is refused: a late start is worse than none."""
    armed(bench)
    old = bench.status_at
    bench.steps(70)
    reply = bench.ask(Run(TOKEN, old, 26000, 1000, 60000, 0))
    assert (reply.refusal, bench.controller.state) == (r.STALE, ARMED)


def test_run_from_before_a_stop(bench: Bench) -> None:
    """A Run held back on the way from before a STOP never acts, even after the next Arm."""
    armed(bench)
    epoch, seq = bench.epoch, bench.seq + 1
    bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    assert bench.controller.state == DISARMED
    armed(bench)
    reply = bench.ask(Run(TOKEN, bench.status_at, 26000, 1000, 60000, 0), epoch=epoch, seq=seq)
    assert (reply.refusal, bench.controller.state) == (r.WRONG_EPOCH, ARMED)


def test_the_same_order_twice(bench: Bench) -> None:
    """The same (epoch, seq) gets the same reply, byte for byte, and has no second effect."""
    bench.seq += 1
    seq, epoch = bench.seq, bench.epoch
    order = Arm(TOKEN, 45000, 850, 0)
    first = bench.ask(order, epoch=epoch, seq=seq)
    after = bench.epoch
    second = bench.ask(order, epoch=epoch, seq=seq)
    assert first == second
    assert bench.epoch == after == first.detail


def test_older_order(bench: Bench) -> None:
    """An order numbered before one already taken is refused as stale."""
    armed(bench)
    bench.run()
    older = (bench.seq - 1000) & 0xFFFF
    assert bench.ask(SetSpeed(TOKEN, 20000), seq=older).refusal == r.STALE
    assert bench.controller.motion.ramp.target_mrpm == 26000


def test_a_number_is_taken_once(bench: Bench) -> None:
    """Another order under the number of the last one is stale."""
    armed(bench)
    bench.run()
    assert bench.ask(SetSpeed(TOKEN, 20000)).refusal == r.OK
    assert bench.ask(Call(TOKEN, 1), seq=bench.seq).refusal == r.STALE


def test_sequence_wraps(bench: Bench) -> None:
    """Sequence numbers go on past 65535."""
    armed(bench)
    bench.run()
    bench.seq = 32000
    assert bench.ask(SetSpeed(TOKEN, 20000)).refusal == r.OK
    bench.seq = 64000
    assert bench.ask(SetSpeed(TOKEN, 20500)).refusal == r.OK
    bench.seq = 0xFFFE
    assert bench.ask(SetSpeed(TOKEN, 21000)).refusal == r.OK
    bench.seq = 0xFFFF
    assert bench.ask(SetSpeed(TOKEN, 22000)).refusal == r.OK
    assert bench.controller.motion.ramp.target_mrpm == 22000


@pytest.mark.parametrize("target", [0, 499, 45001, 500000, 0xFFFFFFFF])
def test_silly_speeds(target: int) -> None:
    """0 rpm is no way to stop and 500 rpm no speed: refused with the limit, never clamped."""
    bench = Bench()
    bench.start()
    reply = bench.ask(SetSpeed(TOKEN, target))
    assert reply.refusal in (r.OUT_OF_RANGE, r.ABOVE_CEILING)
    assert reply.detail == (500 if target < 500 else 45000)
    assert bench.controller.motion.ramp.target_mrpm == 26000


def test_set_speed_only_while_running(bench: Bench) -> None:
    """A speed is refused in every state but running."""
    assert bench.ask(SetSpeed(TOKEN, 10000)).refusal == r.WRONG_STATE
    armed(bench)
    assert bench.ask(SetSpeed(TOKEN, 10000)).refusal == r.WRONG_STATE


def test_segment_ends_by_itself(bench: Bench) -> None:
    """A host that renews but never ends the segment is overruled: planned stop at end plus standing time."""
    armed(bench)
    bench.run(end_ms=10000, standing=5000)
    took = bench.until(SLOWING, 20000)
    assert 14900 <= took <= 15100
    assert bench.reason() == "planned_end"
    bench.until(DISARMED, 6000)


def test_moved_end(bench: Bench) -> None:
    """SetEnd moves the end while running; more than 180 s of standing time is refused."""
    armed(bench)
    bench.run(end_ms=10000, standing=0)
    assert bench.ask(SetEnd(TOKEN, 0, 5000, 180001)).refusal == r.OUT_OF_RANGE
    assert bench.ask(SetEnd(TOKEN, 0, 0, 0)).refusal == r.OUT_OF_RANGE
    assert bench.ask(SetEnd(TOKEN, 15000, 20000, 0)).refusal == r.OK
    assert 19800 <= bench.until(SLOWING, 30000) <= 20100


def test_calls(bench: Bench) -> None:
    """Water and end are called on time by the board itself; a short press silences the buzzer."""
    armed(bench)
    bench.ask(Run(TOKEN, bench.status_at, 26000, 3000, 6000, 90000))
    bench.steps(290)
    assert bench.controller.call == messages.CALL_NONE
    bench.steps(20)
    assert (bench.controller.call, bench.controller.lamp) == (messages.CALL_WET_DOWN,) * 2
    bench.pedal = True
    bench.steps(20)
    bench.pedal = False
    bench.steps(10)
    assert (bench.controller.call, bench.status.pedal_presses) == (messages.CALL_NONE, 1)
    bench.steps(300)
    assert bench.controller.call == messages.CALL_END
    assert bench.controller.state == RUNNING


def test_host_may_call(bench: Bench) -> None:
    """The host sets and ends a call; a number that is no call is refused."""
    assert bench.ask(Call(TOKEN, messages.CALL_WET_DOWN)).refusal == r.OK
    assert bench.controller.call == messages.CALL_WET_DOWN
    assert bench.ask(Call(TOKEN, 9)).refusal == r.OUT_OF_RANGE
    assert bench.ask(Call(TOKEN, messages.CALL_NONE)).refusal == r.OK
    assert bench.controller.lamp == messages.CALL_NONE


def test_ping(bench: Bench) -> None:
    """Ping comes back with its echo and the board's time, for the clock's offset."""
    assert bench.ask(Ping(0xFFFFFFFF)).detail == 0xFFFFFFFF


def test_settings_read(bench: Bench) -> None:
    """Anyone may read the settings."""
    bench.ask(ReadSettings(0))
    assert any(message == DEFAULTS for _, message in bench.log)


@pytest.mark.parametrize("row", SETTING_TABLE, ids=lambda row: str(row[1]))
def test_settings_written(bench: Bench, row: tuple[int, str, int, int, int]) -> None:
    """A setting changes only with the old value quoted and the new one in its limits."""
    number, name, default, least, most = row
    assert bench.ask(WriteSetting(TOKEN, number, default + 1, least)).refusal == r.OLD_VALUE_DIFFERS
    assert bench.ask(WriteSetting(TOKEN, number, default, most + 1)).refusal == r.OUT_OF_RANGE
    if least:
        assert bench.ask(WriteSetting(TOKEN, number, default, least - 1)).refusal == r.OUT_OF_RANGE
    assert not bench.controller.settings_changed
    assert bench.ask(WriteSetting(TOKEN, number, default, least)).refusal == r.OK
    assert getattr(bench.controller.settings, name) == least
    assert bench.controller.settings_changed


def test_settings_only_at_rest(bench: Bench) -> None:
    """Settings do not change while armed, running or moving, nor for an unknown id."""
    assert bench.ask(WriteSetting(TOKEN, 99, 0, 0)).refusal == r.OUT_OF_RANGE
    armed(bench)
    assert bench.ask(WriteSetting(TOKEN, 3, 45000, 60000)).refusal == r.WRONG_STATE


def test_damaged_settings() -> None:
    """With no sound settings the ceiling is low, and the board does not arm until it has been set up."""
    bench = Bench(settings=None)
    bench.steps(150)
    bench.greet()
    assert bench.status.flags & messages.SETTINGS_DAMAGED
    assert bench.controller.settings.ceiling_mrpm == 10000
    assert bench.arm(ceiling=10000).refusal == r.SERVICE_LOCKED
    assert bench.ask(WriteSetting(TOKEN, 16, 1, 0)).refusal == r.OK
    assert bench.arm(ceiling=10000).refusal == r.OK


def test_renewals(bench: Bench) -> None:
    """Renewals keep the permit; wrong epoch, wrong token, old or future quotes do not."""
    armed(bench)
    bench.host_alive = False
    bench.run()
    for _ in range(10):
        bench.steps(40)
        bench.say(Renew(TOKEN, bench.status_at))
    assert bench.controller.state == RUNNING
    old = bench.status_at
    bench.steps(30)
    left = bench.controller.motion.permit.left_ms(bench.controller.motion.up_ms)
    assert bench.ask(Renew(5, bench.status_at)).refusal == r.NOT_OWNER
    assert bench.ask(Renew(TOKEN, bench.status_at), epoch=3).refusal == r.WRONG_EPOCH
    assert bench.ask(Renew(TOKEN, (bench.now_ms + 50) & 0xFFFFFFFF)).refusal == r.STALE
    assert bench.ask(Renew(TOKEN, (old - 700) & 0xFFFFFFFF)).refusal == r.STALE
    motion = bench.controller.motion
    assert motion.permit.left_ms(motion.up_ms) == left - 40


def test_renewal_after_the_permit_died() -> None:
    """A renewal that comes too late is refused and starts nothing."""
    bench = Bench()
    bench.start()
    bench.host_alive = False
    bench.until(SLOWING, 700)
    assert bench.ask(Renew(TOKEN, bench.status_at)).refusal == r.WRONG_STATE
    bench.until(TRIPPED, 5000)


def test_reset_is_not_start() -> None:
    """Reset needs the fault's number, rest, and the cause gone; it leads to disarmed and moves nothing."""
    bench = Bench()
    bench.start()
    bench.estop_open = True
    bench.steps(2)
    assert bench.controller.state == TRIPPED
    assert bench.ask(Reset(TOKEN, r.OVERLOAD)).refusal == r.WRONG_FAULT
    assert bench.ask(Reset(TOKEN, r.ESTOP_OPEN)).refusal == r.ESTOP_IS_OPEN
    bench.estop_open = False
    bench.steps(2)
    assert bench.ask(Reset(TOKEN, r.ESTOP_OPEN)).refusal == r.TABLE_MOVING
    bench.steps(300)
    assert bench.ask(Reset(TOKEN, r.ESTOP_OPEN)).refusal == r.OK
    bench.steps(500)
    assert (bench.controller.state, bench.speed) == (DISARMED, 0)


def test_lost_edge_batch_shows() -> None:
    """Edge batches carry running numbers without a gap, at most 50 ms old; a lost frame shows as a step."""
    bench = Bench()
    bench.start(target=45000, seconds=20)
    numbers = [0, 0]
    for at, edges in bench.edge_frames:
        for i, stamp in enumerate(edges.stamps_us):
            numbers[edges.sensor] += 1
            assert edges.first_number + i == numbers[edges.sensor]
            assert at * 1000 - stamp <= 60000
    assert numbers[0] == bench.controller.motion.table_line.count > 200


def test_full_port() -> None:
    """While nothing is taken, old status is lost and replies wait; the table does not wait."""
    bench = Bench()
    bench.start()
    c = bench.controller
    for i in range(5):
        c.receive(codec.encode(Ping(i), bench.epoch, 900 + i, 0), bench.now_ms)
        for _ in range(10):
            bench.now_ms += 10
            c.inputs(400, False, False, True)
            c.step(bench.now_ms)
    taken = [codec.decode(payload)[1] for payload in c.take_payloads()]
    assert [m.detail for m in taken if isinstance(m, messages.Reply)] == list(range(5))
    assert len([m for m in taken if isinstance(m, messages.Status)]) == 1


def test_ceiling_of_the_settings() -> None:
    """With a stored ceiling of 20 rpm no order reaches more."""
    bench = Bench(settings=with_value(DEFAULTS, 3, 20000))
    bench.steps(150)
    bench.greet()
    assert bench.arm(ceiling=20001).refusal == r.ABOVE_CEILING


def test_run_at_the_last_moment(bench: Bench) -> None:
    """A Run that arrives 10 s after Arm, before the next step, is refused as expired."""
    bench.arm()
    bench.steps(998)
    assert bench.controller.state == ARMED
    now = (bench.now_ms + 50) & 0xFFFFFFFF
    order = Run(TOKEN, bench.status_at, 26000, 1000, 60000, 0)
    bench.controller.receive(codec.encode(order, bench.epoch, 5000, 0), now)
    replies = [codec.decode(payload)[1] for payload in bench.controller.take_payloads()]
    assert [m.refusal for m in replies if isinstance(m, messages.Reply)] == [r.ARM_EXPIRED]


def test_run_while_someone_turns_the_table(bench: Bench) -> None:
    """A table moved by hand between Arm and Run makes the Run refused."""
    armed(bench)
    for _ in range(30):
        bench.speed = 30000
        bench.step()
    assert bench.run().refusal == r.TABLE_MOVING
    assert not bench.controller.enable


def test_orders_out_of_place(bench: Bench) -> None:
    """SetEnd while disarmed and Reset while not tripped are refused."""
    assert bench.ask(SetEnd(TOKEN, 0, 1000, 0)).refusal == r.WRONG_STATE
    assert bench.ask(Reset(TOKEN, r.NONE)).refusal == r.WRONG_STATE


@pytest.mark.parametrize("size", range(10))
def test_less_than_a_header(bench: Bench, size: int) -> None:
    """A payload shorter than a header is ignored."""
    before = len(bench.log)
    bench.controller.receive(bytes(size), bench.now_ms)
    bench.steps(20)
    assert len(bench.log) == before


def test_greeting_of_something_else(bench: Bench) -> None:
    """A greeting with another magic number or major version in it makes no owner."""
    bench.steps(300)
    hash_ = messages.SCHEMA_HASH
    assert bench.ask(Hello(1, 77, messages.VERSION, 0, hash_)).refusal == r.BAD_LAYOUT
    assert bench.ask(Hello(messages.MAGIC, 77, 2, 0, hash_)).refusal == r.VERSION_DIFFERS
    assert bench.arm(token=77).refusal == r.NOT_OWNER


def test_no_setting_while_moving(bench: Bench) -> None:
    """A setting does not change while the table is turned by hand; a refusal tells the limit it broke."""
    reply = bench.ask(WriteSetting(TOKEN, 3, 45000, 999))
    assert (reply.refusal, reply.detail) == (r.OUT_OF_RANGE, 1000)
    reply = bench.ask(WriteSetting(TOKEN, 3, 45000, 60001))
    assert (reply.refusal, reply.detail) == (r.OUT_OF_RANGE, 60000)
    for _ in range(30):
        bench.speed = 30000
        bench.step()
    assert bench.ask(WriteSetting(TOKEN, 3, 45000, 50000)).refusal == r.TABLE_MOVING


def test_clock_that_stands_or_steps_back(bench: Bench) -> None:
    """A step at the same time does nothing; a clock that steps back an hour moves neither ramp nor run."""
    armed(bench)
    bench.run()
    bench.steps(20)
    c = bench.controller
    before = (c.speed_out_mrpm, c.motion.run_ms)
    c.step(bench.now_ms)
    c.step((bench.now_ms - 3_600_000) & 0xFFFFFFFF)
    assert (c.speed_out_mrpm, c.motion.run_ms, c.state) == (*before, RUNNING)


def test_arm_ends_calls(bench: Bench) -> None:
    """A call left over from the segment before ends when the next one is armed, not when Arm is refused."""
    bench.ask(Call(TOKEN, messages.CALL_END))
    bench.arm(ceiling=10)
    assert bench.controller.call == messages.CALL_END
    bench.arm()
    assert (bench.controller.call, bench.controller.lamp) == (messages.CALL_NONE,) * 2
