"""Faults the board finds and stops for by itself, each with its reason, its kind of stop and its time."""

from __future__ import annotations

import pytest

from firmware_protocol import messages
from firmware_protocol import reasons as r
from firmware_protocol.messages import (
    DISARMED,
    RUNNING,
    SLOWING,
    TRIPPED,
    Reset,
    SetSpeed,
    Stop,
    WriteSetting,
)
from firmware_protocol.settings import DEFAULTS, Settings, with_value
from tests.firmware_protocol.portable.bench import TOKEN, Bench


def running(target: int = 26000, seconds: int = 12, lap: int = 0, settings: Settings = DEFAULTS) -> Bench:
    bench = Bench(settings=settings)
    bench.start(target, seconds, lap)
    return bench


def stop_told(bench: Bench) -> messages.Stopping:
    told = [m for _, m in bench.log if isinstance(m, messages.Stopping)]
    assert len(told) == 1, told
    return told[0]


def stays_tripped(bench: Bench) -> None:
    """No motion any more without Reset, Arm and Run."""
    bench.until(TRIPPED, 6000)
    bench.until_rest(6000)
    bench.steps(300)
    assert bench.controller.state == TRIPPED
    assert not bench.controller.enable
    assert bench.controller.call == messages.CALL_FAULT


@pytest.mark.parametrize("target", [6000, 26000, 35000, 45000])
def test_host_dies(target: int) -> None:
    """Silence of the host stops the table: lease 600 ms, then 2 rad/s2, power off after 4.0 s at most."""
    bench = running(target)
    bench.host_alive = False
    assert bench.until(SLOWING, 1000) <= 610
    ramp_ms = target * 1000 // 19098
    start = bench.now_ms
    while bench.controller.speed_out_mrpm:
        bench.step()
    assert abs(bench.passed(start) - ramp_ms) <= 20
    assert bench.until(TRIPPED, 4000) + ramp_ms <= 4010
    assert (stop_told(bench).reason, stop_told(bench).stop_kind) == (r.PERMIT_EXPIRED, r.CONTROLLED_THEN_OFF)
    stays_tripped(bench)


@pytest.mark.parametrize("target", [3000, 26000, 45000])
def test_table_sensor_dead(target: int) -> None:
    """A dead table sensor is found within max(0.5 s, 3 gaps) and the power goes after T_SS1 all the same."""
    bench = running(target)
    bench.table_sensor = False
    gap_ms = 60_000_000 // (target * 24)
    took = bench.until(SLOWING, 10000)
    assert took <= max(500, 3 * gap_ms) + 120 + gap_ms
    assert bench.reason() == "table_sensor_dead"
    assert bench.until(TRIPPED, 4010) >= 1000 * target // 19098
    stays_tripped(bench)


def test_table_sensor_dead_at_start() -> None:
    """With no edge at all the run ends about 2 s after Run."""
    bench = Bench()
    bench.steps(150)
    bench.greet()
    bench.arm()
    bench.steps(60)
    bench.table_sensor = False
    bench.run()
    assert bench.until(SLOWING, 3000) <= 2100
    assert bench.reason() == "table_sensor_dead"


def test_one_percent_bad_edges() -> None:
    """With 1 % of edges lost and 1 % extra, nothing stops in half an hour."""
    bench = running(26000)
    bench.glitch_permille = 10
    bench.lost_permille = 10
    for delay in (3000, 25000, 48000, 80000):
        bench.glitch_us = delay
        bench.steps(45000)
        assert bench.controller.state == RUNNING, (bench.reason(), delay)


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_one_percent_bad_edges_ten_hours() -> None:
    """The same for ten hours."""
    bench = running(26000)
    bench.glitch_permille = 10
    bench.lost_permille = 10
    for hour in range(10):
        bench.glitch_us = 9000 * (hour + 1)
        bench.say(messages.SetEnd(TOKEN, 86_000_000, 86_000_000, 0))
        bench.steps(360_000)
        assert bench.controller.state == RUNNING, (bench.reason(), hour)


@pytest.mark.parametrize("delay_us", [3000, 30000])
def test_noisy_table_sensor(delay_us: int) -> None:
    """With 20 % extra edges the table stops, controlled, within 10 s."""
    bench = running(26000)
    bench.glitch_permille = 200
    bench.glitch_us = delay_us
    bench.until(SLOWING, 10000)
    assert bench.reason() == "table_sensor_noisy"
    stays_tripped(bench)


@pytest.mark.parametrize("period_us", [10000, 20000])
def test_hum_on_the_table_sensor(period_us: int) -> None:
    """Hum of 50 or 100 Hz on the sensor's wire stops the table within 3 s."""
    bench = running(26000)
    at = bench.now_ms * 1000
    for _ in range(300):
        bench.step()
        while at < bench.now_ms * 1000:
            bench.controller.edge(0, at & 0xFFFFFFFF)
            at += period_us
        if bench.controller.state != RUNNING:
            break
    assert bench.reason() in ("table_sensor_noisy", "overspeed")
    stays_tripped(bench)


def test_overload() -> None:
    """Load over the limit for 0.3 s takes the power off at once; 0.25 s does not."""
    bench = running()
    bench.load = 700
    bench.steps(300)
    bench = running()
    bench.controller.motion.checks.steady_ms = 0
    bench.load = 900
    assert bench.until(TRIPPED, 400) <= 360
    assert bench.reason() in ("overload", "lap_grabbed")
    stays_tripped(bench)


def test_overload_in_the_ramp() -> None:
    """Overload is found in the start ramp too, and within 0.36 s."""
    bench = running(seconds=2)
    bench.load = 900
    assert bench.until(TRIPPED, 400) <= 360
    assert bench.reason() == "overload"
    assert stop_told(bench).stop_kind == r.POWER_OFF


def test_stalled_motor() -> None:
    """A table held at a third of its speed with the motor pushing is overload, within 1.5 s."""
    bench = running(26000)
    bench.load = 560
    bench.slip_permille = 700
    bench.until(TRIPPED, 1500)
    assert bench.reason() == "overload"


@pytest.mark.parametrize("target", [12000, 26000, 45000])
def test_belt_slip(target: int) -> None:
    """A belt that slips by 15 % under light load is found within 2.5 s (at 26 rpm and up: 2 s)."""
    bench = running(target)
    bench.slip_permille = 150
    took = bench.until(SLOWING, 2500)
    assert bench.reason() == "belt_slip"
    assert took <= (2000 if target >= 26000 else 2500)
    stays_tripped(bench)


def test_small_slip_is_no_fault() -> None:
    """Five percent of slip stops nothing."""
    bench = running()
    bench.slip_permille = 50
    bench.steps(3000)
    assert bench.controller.state == RUNNING


def test_drive_not_following() -> None:
    """A drive stuck at its speed is found within 2.3 s after the ramp to another speed has ended."""
    bench = running(12000)
    bench.stuck_at = 12000
    bench.ask(SetSpeed(TOKEN, 20000))
    while bench.controller.speed_out_mrpm < 20000:
        bench.step()
        assert bench.controller.state == RUNNING
    assert bench.until(SLOWING, 4000) <= 3300
    assert bench.reason() == "drive_not_following"
    stays_tripped(bench)


@pytest.mark.parametrize("acceleration", [20000, 60000, 200000])
def test_runaway(acceleration: int) -> None:
    """A drive that runs away loses its power within 0.3 s of passing the limit; like stop category 0."""
    bench = running(26000)
    bench.runaway_mrpm_s = acceleration
    limit = 26000 * 115 // 100 + 2000
    while bench.speed < limit:
        bench.step()
    took = bench.until(TRIPPED, 1000)
    assert bench.reason() == "overspeed"
    assert stop_told(bench).stop_kind == r.POWER_OFF
    assert took <= 300
    stays_tripped(bench)


@pytest.mark.parametrize("target", [14000, 19000, 26000, 35000])
@pytest.mark.parametrize("phase", range(0, 18, 3))
def test_a_runaway_at_twenty_radians_a_second_squared(target: int, phase: int) -> None:
    """Gaps that shrink so fast that some of them together fit one known gap are found within 0.3 s too."""
    bench = running(target)
    bench.steps(phase)
    bench.runaway_mrpm_s = 200000
    while bench.speed < target * 115 // 100 + 2000:
        bench.step()
    assert bench.until(TRIPPED, 3000) <= 300
    assert bench.reason() == "overspeed"
    assert bench.fastest < 100000


def test_overspeed_while_stopping() -> None:
    """A drive that ignores the stop ramp and speeds up loses its power at once, not after 4 s."""
    bench = running(26000)
    bench.say(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    bench.runaway_mrpm_s = 60000
    assert bench.until(TRIPPED, 1500) < 700
    assert bench.reason() == "overspeed"


def test_drive_that_will_not_slow_down() -> None:
    """A drive that keeps its speed through a stop loses its power 4.0 s after the stop began, or sooner."""
    bench = running(26000)
    bench.stuck_at = 26000
    bench.say(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    start = bench.now_ms
    while bench.controller.enable:
        bench.step()
    assert bench.passed(start) <= 4010
    bench.until_rest(2000)


def test_welded_relay() -> None:
    """Power that stays on after a stop: told within 1 s, contactor dropped, board locked until serviced."""
    bench = running(26000)
    bench.relay_welded = True
    bench.say(Stop(r.PLANNED, r.PLANNED_END))
    bench.until(DISARMED, 6000)
    assert bench.until(TRIPPED, 1000) <= 520
    assert bench.reason() == "power_not_off"
    assert not bench.controller.contactor
    assert bench.controller.settings.service_lock == 1
    assert bench.controller.settings_changed
    assert bench.ask(Reset(TOKEN, r.POWER_NOT_OFF)).refusal == r.POWER_IS_ON
    bench.relay_welded = False
    bench.steps(300)
    assert bench.ask(Reset(TOKEN, r.POWER_NOT_OFF)).refusal == r.OK
    assert bench.arm().refusal == r.SERVICE_LOCKED
    assert bench.ask(WriteSetting(TOKEN, 16, 1, 0)).refusal == r.OK
    assert bench.arm().refusal == r.OK


@pytest.mark.parametrize("named", [r.POWER_NOT_OFF, r.OVERLOAD, r.WATCHDOG_RESET])
def test_a_stop_cannot_name_what_only_the_board_finds(named: int) -> None:
    """A STOP that names a finding of the board's own counts as a host's; the board's own eyes stay open."""
    bench = running(26000)
    bench.relay_welded = True
    bench.say(Stop(r.CONTROLLED_THEN_OFF, named))
    bench.steps(1)
    assert bench.reason() == "host_stop"
    bench.until(TRIPPED, 6000)
    assert bench.reason() == "power_not_off"
    assert not bench.controller.contactor


def test_power_seen_without_readback() -> None:
    """Without a readback contact, current after power-off still shows a relay that stays on."""
    bench = running(26000, settings=with_value(DEFAULTS, 14, 0))
    bench.say(Stop(r.POWER_OFF, r.HOST_STOP))
    bench.relay_welded = True
    assert bench.until(TRIPPED, 3000) <= 2000
    assert bench.reason() == "power_not_off"


def test_relay_that_does_not_close() -> None:
    """Power that does not come within 0.5 s ends the run."""
    bench = Bench()
    bench.steps(150)
    bench.greet()
    bench.arm()
    bench.steps(60)
    bench.relay_dead = True
    bench.run()
    assert bench.until(TRIPPED, 700) <= 520
    assert bench.reason() == "power_not_on"


def test_lap_grabs() -> None:
    """Load up by more than 60 % within 0.2 s takes the power off within 0.3 s."""
    bench = running(26000)
    bench.load = 700
    assert bench.until(TRIPPED, 1000) <= 300
    assert bench.reason() == "lap_grabbed"
    assert bench.controller.motion.stop_kind == r.POWER_OFF
    stays_tripped(bench)


def test_table_braked_by_the_lap() -> None:
    """A table braked at more than 4 rad/s2 with load rising is a grab as well."""
    bench = running(26000)
    bench.jammed = True
    bench.load = 520
    bench.until(TRIPPED, 1000)
    assert bench.reason() == "lap_grabbed"


def test_slow_rise_of_load_is_no_grab() -> None:
    """Load that doubles over half a minute is the host's affair, not a grab."""
    bench = running(26000)
    for load in range(400, 800, 4):
        bench.load = load
        bench.steps(30)
    assert bench.controller.state == RUNNING


def test_lap_flies_off() -> None:
    """The lap's sensor falls silent and the load falls by more than 40 %: controlled stop within 1.2 s."""
    bench = running(26000, lap=1)
    bench.lap_sensor = False
    bench.load = 150
    assert bench.until(SLOWING, 2000) <= 1200
    assert bench.reason() == "lap_off"
    stays_tripped(bench)


def test_silent_lap_sensor_alone_is_no_fault_of_the_board() -> None:
    """A silent lap sensor with the load as before is for the host to judge."""
    bench = running(26000, lap=1)
    bench.lap_sensor = False
    bench.steps(1000)
    assert bench.controller.state == RUNNING


def test_slowing_down_is_no_lap_off() -> None:
    """Slowing to a creep, with wider gaps at the lap and less load, is no lap that came off."""
    bench = running(26000, lap=1)
    bench.ask(SetSpeed(TOKEN, 6000))
    bench.load = 200
    bench.steps(1500)
    assert bench.controller.state == RUNNING


@pytest.mark.parametrize("moment", ["armed", "running", "slowing"])
def test_emergency_stop_is_reported(moment: str) -> None:
    """The emergency stop cuts by wire; the board trips within one step, and release alone moves nothing."""
    bench = running(26000) if moment != "armed" else Bench()
    if moment == "armed":
        bench.steps(150)
        bench.greet()
        bench.arm()
    if moment == "slowing":
        bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    bench.estop_open = True
    bench.steps(1)
    assert (bench.controller.state, bench.reason()) == (TRIPPED, "estop_open")
    bench.steps(300)
    bench.estop_open = False
    bench.steps(500)
    assert (bench.controller.state, bench.speed) == (TRIPPED, 0)


def test_emergency_stop_while_disarmed() -> None:
    """Pressed at rest it only shows in the status."""
    bench = Bench()
    bench.steps(100)
    bench.estop_open = True
    bench.steps(20)
    assert bench.controller.state == DISARMED
    assert bench.status.flags & messages.ESTOP_OPEN


def test_pedal_held_stops() -> None:
    """The pedal held for 0.8 s stops the table; it takes no reset afterwards."""
    bench = running(26000)
    bench.pedal = True
    assert bench.until(SLOWING, 1000) <= 860
    assert bench.reason() == "pedal_stop"
    bench.pedal = False
    bench.until(DISARMED, 5000)


def test_pedal_held_hardens_a_planned_stop() -> None:
    """Held during a planned stop, the pedal asks for the quicker one."""
    bench = running(26000)
    bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    bench.pedal = True
    bench.steps(90)
    assert bench.controller.motion.stop_kind == r.CONTROLLED_THEN_OFF
    assert bench.until(DISARMED, 2200) <= 2000


def test_blips_on_the_pedals_wire_are_no_press() -> None:
    """Disturbances shorter than 30 ms, however many, never add up to a press that would answer a call."""
    bench = running(26000)
    presses = bench.controller.motion.pedal.presses
    for _ in range(20):
        bench.pedal = True
        bench.steps(1)
        bench.pedal = False
        bench.steps(50)
    assert bench.controller.motion.pedal.presses == presses
    assert bench.controller.state == RUNNING


def test_pedal_never_starts() -> None:
    """No play on the pedal starts an armed table; held, it disarms."""
    bench = Bench()
    bench.steps(150)
    bench.greet()
    bench.arm()
    for _ in range(5):
        bench.pedal = not bench.pedal
        bench.steps(20)
    assert not bench.controller.enable
    bench.pedal = True
    bench.steps(100)
    assert (bench.controller.state, bench.reason()) == (DISARMED, "pedal_stop")


def test_stuck_pedal() -> None:
    """A pedal pressed for 10 s is stuck or its wire broken: tripped until it is released and reset."""
    bench = Bench()
    bench.steps(150)
    bench.greet()
    bench.pedal = True
    bench.steps(1100)
    assert (bench.controller.state, bench.reason()) == (TRIPPED, "pedal_stuck")
    assert bench.ask(Reset(TOKEN, r.PEDAL_STUCK)).refusal == r.PEDAL_PRESSED
    bench.pedal = False
    bench.steps(10)
    assert bench.ask(Reset(TOKEN, r.PEDAL_STUCK)).refusal == r.OK


def test_bench_without_a_pedal() -> None:
    """With no pedal fitted an open input means nothing."""
    bench = Bench(settings=with_value(DEFAULTS, 12, 0))
    bench.pedal = True
    bench.steps(1500)
    bench.greet()
    assert bench.arm().refusal == r.OK


def test_planned_stop() -> None:
    """A planned stop slows at 1.0 rad/s2 and ends disarmed, the power off within 1.5 x the time needed."""
    bench = running(35000)
    bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    start = bench.now_ms
    while bench.controller.speed_out_mrpm:
        bench.step()
    assert abs(bench.passed(start) - 3665) <= 20
    bench.until(DISARMED, 2000)
    assert bench.passed(start) <= 5510
    assert (stop_told(bench).reason, stop_told(bench).latched) == (r.PLANNED_END, 0)


def test_harder_stop_wins() -> None:
    """A planned stop under way becomes a controlled one, or power off, when asked; never the other way."""
    bench = running(35000)
    bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    assert bench.controller.motion.stop_kind == r.CONTROLLED_THEN_OFF
    bench.ask(Stop(r.POWER_OFF, r.HOST_STOP))
    assert not bench.controller.enable
    assert bench.reason() == "host_stop"


def test_hosts_reason_is_kept() -> None:
    """A stop with the host's own reason keeps that reason, and latches if the reason does."""
    bench = running()
    bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.LAP_STALLED))
    stays_tripped(bench)
    assert bench.reason() == "lap_stalled"
    assert bench.ask(Reset(TOKEN, r.LAP_STALLED)).refusal == r.OK


def test_raw_stop() -> None:
    """The bare terminal's stop works without any handshake."""
    bench = running()
    bench.controller.raw_stop(bench.now_ms)
    bench.steps(1)
    assert (bench.controller.state, bench.reason()) == (SLOWING, "raw_stop")


def test_own_failure() -> None:
    """An error of the board's own loop takes the power off and trips, also where nothing turned."""
    bench = running()
    bench.controller.fail(bench.now_ms)
    assert (bench.controller.state, bench.controller.enable) == (TRIPPED, False)
    resting = Bench()
    resting.steps(150)
    resting.controller.fail(resting.now_ms)
    resting.steps(1)
    assert (resting.controller.state, resting.reason()) == (TRIPPED, "controller_fault")


@pytest.mark.parametrize("cause", range(4))
def test_boots_to_rest(cause: int) -> None:
    """Whatever the cause of the restart, the board boots disarmed and nothing moves."""
    bench = Bench()
    from firmware_protocol.controller import Controller

    bench.controller = Controller(DEFAULTS, "b", "f", 7, cause)
    bench.steps(1000)
    assert (bench.controller.state, bench.speed, bench.controller.enable) == (DISARMED, 0, False)
    assert bench.reason() == ("none", "watchdog_reset", "brown_out", "board_reset")[cause]


@pytest.mark.parametrize("targets", [(6, 3), (24, 12), (60, 60), (1, 1)])
def test_a_whole_segment(targets: tuple[int, int]) -> None:
    """Creep, work, creep, stop: no false alarm, whatever the number of targets."""
    settings = with_value(with_value(DEFAULTS, 1, targets[0]), 2, targets[1])
    bench = running(6000, 20, 1, settings)
    for target in (14000, 26000, 8000):
        assert bench.ask(SetSpeed(TOKEN, target)).refusal == r.OK
        bench.steps(3000)
        assert bench.controller.state == RUNNING, (bench.reason(), target)
    assert bench.controller.motion.table.bad == 0 or targets[0] == 1
    bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    bench.until(DISARMED, 8000)


def test_speed_seen_without_readback() -> None:
    """Without readback or load, a table that speeds up after power-off shows a relay that stays on."""
    bench = running(12000, settings=with_value(DEFAULTS, 14, 0))
    bench.load = 0
    bench.say(Stop(r.POWER_OFF, r.HOST_STOP))
    bench.relay_welded = True
    bench.stuck_at = 26000
    assert bench.until(TRIPPED, 3000) <= 1500
    assert bench.reason() == "power_not_off"


def test_turning_by_hand_after_a_stop() -> None:
    """A table that came to rest and is then turned by hand is no relay that stays on."""
    bench = running(12000)
    bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    bench.until(DISARMED, 5000)
    bench.steps(120)
    for _ in range(200):
        bench.speed = 30000
        bench.step()
    assert bench.controller.state == DISARMED


def test_power_goes_at_standstill() -> None:
    """A controlled stop from 10 rpm has the power off at standstill, well before T_SS1."""
    bench = running(10000)
    bench.ask(Stop(r.CONTROLLED_THEN_OFF, r.HOST_STOP))
    assert bench.until(DISARMED, 4000) <= 2500


def test_overload_while_stopping() -> None:
    """Overload during a stop takes the power off, and asks for a reset."""
    bench = running(26000)
    bench.ask(Stop(r.PLANNED, r.PLANNED_END))
    bench.load = 900
    assert bench.until(TRIPPED, 1000) <= 360
    assert bench.reason() == "overload"


@pytest.mark.parametrize("double", [13000, 16000, 20000, 24000])
def test_limit_follows_the_ramp_down(double: int) -> None:
    """After slowing to 8 rpm the overspeed limit is that of 8 rpm, and double the speed is no riddle."""
    bench = running(26000)
    bench.ask(SetSpeed(TOKEN, 8000))
    bench.steps(800)
    assert bench.controller.state == RUNNING
    bench.stuck_at = double
    assert bench.until(TRIPPED, 2000) <= 1200
    assert bench.reason() == "overspeed"


def test_slow_start_is_no_dead_sensor() -> None:
    """With 60 targets and a drive that begins 1.5 s late, the sensor is not called dead."""
    bench = Bench(settings=with_value(DEFAULTS, 1, 60))
    bench.steps(200)
    bench.greet()
    bench.arm()
    bench.steps(60)
    bench.stuck_at = 0
    bench.run(20000)
    bench.steps(150)
    bench.stuck_at = -1
    bench.steps(300)
    assert bench.controller.state == RUNNING, bench.reason()


@pytest.mark.parametrize("lap", [0, 1])
def test_lap_never_seen_is_no_lap_off(lap: int) -> None:
    """Without a lap, or with a lap sensor that never gave an edge, less load means nothing."""
    bench = Bench()
    bench.lap_sensor = lap == 0
    bench.start(26000, 12, lap)
    bench.lap_sensor = False
    bench.load = 150
    bench.steps(500)
    assert bench.controller.state == RUNNING


def test_lamp_of_a_fault_stays() -> None:
    """A short press, or the host's call, silences the buzzer of a fault; its lamp stays until the reset."""
    bench = running(12000)
    bench.ask(Stop(r.POWER_OFF, r.LAP_STALLED))
    bench.steps(200)
    c = bench.controller
    assert (c.state, c.call, c.lamp) == (TRIPPED, messages.CALL_FAULT, messages.CALL_FAULT)
    bench.ask(messages.Call(TOKEN, messages.CALL_WET_DOWN))
    assert (c.call, c.lamp) == (messages.CALL_WET_DOWN, messages.CALL_FAULT)
    bench.pedal = True
    bench.steps(20)
    bench.pedal = False
    bench.steps(20)
    assert (c.call, c.lamp) == (messages.CALL_NONE, messages.CALL_FAULT)
    assert bench.ask(Reset(TOKEN, r.BELT_SLIP)).refusal == r.WRONG_FAULT
    assert c.lamp == messages.CALL_FAULT
    assert bench.ask(Reset(TOKEN, r.LAP_STALLED)).refusal == r.OK
    assert c.lamp == messages.CALL_NONE
