"""Every mishap happens to the thing itself, and the board makes of it what it must."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from benchctl.errors import BadInput
from benchctl.simulator.mishaps import MISHAPS, parse_mishap
from benchctl.simulator.simulated import SimulatedBench
from firmware_protocol import messages
from firmware_protocol import reasons as r
from tests.simulator.raw_host import TOKEN, RawHost, make_bench

AT_S = 40.0
PROMISED = """
lap-grab lap-stall tight-post jerky-lap off-post dry-lap settling-lap overload belt-slip drive-stuck runaway
table-sensor-dead table-sensor-noisy lap-sensor-dead lap-sensor-noisy cable-out noisy-cable board-reset
board-hang relay-welded estop pedal-stuck disk-full clock-jump host-hang
"""


def at_work(name: str, seed: int = 3, lap: int = 1) -> RawHost:
    """A bench at 26 rpm, a moment before the mishap at AT_S."""
    host = RawHost(make_bench(f"{name}@{AT_S}", seed=seed))
    host.start(26.0, lap=lap)
    host.until(AT_S)
    return host


def watched(host: RawHost, seconds: float, see: Callable[[SimulatedBench], float]) -> list[float]:
    """A plant value every 30 ms."""
    seen, until = [], host.bench.now_s + seconds
    while host.bench.now_s < until:
        host.step()
        seen.append(see(host.bench))
    return seen


def ratio(bench: SimulatedBench) -> float:
    """True spin ratio."""
    return bench.plant.lap_rad_s / bench.plant.table_rad_s


def load(bench: SimulatedBench) -> float:
    """True motor torque, share of rated."""
    return abs(bench.plant.drive.torque_nm) / bench.plant.drive.rated_nm


def unevenness(ratios: list[float]) -> float:
    """(max - min) / (2 mean): 1 when the lap stops in each cycle."""
    return (max(ratios) - min(ratios)) / (2 * sum(ratios) / len(ratios))


def test_the_names_are_the_promised_ones() -> None:
    """The list begins with the promised names; each has a line for the person."""
    promised = PROMISED.split()
    assert [mishap.name for mishap in MISHAPS][: len(promised)] == promised
    assert all(10 < len(mishap.line) <= 60 for mishap in MISHAPS)
    assert {mishap.where for mishap in MISHAPS} == {"bench", "cable", "board", "host"}
    for mishap in MISHAPS:
        assert (mishap.where == "host") == (mishap.begin is None and mishap.go_on is None)


@pytest.mark.parametrize(
    "text", ["", "lap-stall", "lap-stall@", "lap-stall@-1", "lap-stall@inf", "lap-stall@1e9", "@3", "x\x1b@3"]
)
def test_a_bad_mishap_is_refused(text: str) -> None:
    """BadInput in one printable sentence."""
    with pytest.raises(BadInput) as refused:
        parse_mishap(text)
    assert "\x1b" not in str(refused.value)


def test_parsing() -> None:
    """NAME@SECONDS, fractions allowed."""
    planned = parse_mishap("dry-lap@12.5")
    assert (planned.mishap.name, planned.at_s) == ("dry-lap", 12.5)


def test_lap_grab() -> None:
    """Friction steps up fourfold; the motor's torque is up by more than 60 % within 0.2 s; power off."""
    host = at_work("lap-grab")
    before = load(host.bench)
    assert max(watched(host, 0.06, load)) > 1.6 * before
    host.until_state("tripped", 0.5)
    assert host.reason == "lap_grabbed"
    assert host.until_rest(0.5) < 0.5


def test_lap_stall() -> None:
    """The lap stands within two seconds on a table that turns on, and scrubs: load up by 10 to 60 %."""
    host = at_work("lap-stall")
    before = load(host.bench)
    watched(host, 2.0, load)
    assert host.bench.plant.lap_rad_s == 0.0
    assert host.bench.plant.table_rpm == pytest.approx(26.0, abs=0.5)
    assert 1.1 < load(host.bench) / before < 1.6
    assert host.bench.board.state == "running", "the board cannot know; the host must"


def test_tight_post() -> None:
    """Over a minute the ratio falls below 0.6 without the lap stopping."""
    ratios = watched(at_work("tight-post"), 70.0, ratio)
    assert ratios[0] > 0.85
    assert 0.2 < ratios[-1] < 0.6
    assert 0.6 < ratios[len(ratios) // 3] < ratios[0]


def test_jerky_lap() -> None:
    """The lap's unevenness within a few turns passes 0.5."""
    host = at_work("jerky-lap")
    watched(host, 8.0, ratio)
    assert unevenness(watched(host, 8.0, ratio)) > 0.5


def test_settling_lap() -> None:
    """The lap jerks at once and has settled a minute later."""
    host = at_work("settling-lap")
    assert unevenness(watched(host, 5.0, ratio)) > 0.15
    watched(host, 50.0, ratio)
    assert unevenness(watched(host, 5.0, ratio)) < 0.1


def test_off_post() -> None:
    """The lap turns with the table and the load is gone but for the bearings; no overspeed from it."""
    host = at_work("off-post")
    before = load(host.bench)
    watched(host, 3.0, load)
    assert ratio(host.bench) == 1.0
    assert load(host.bench) < 0.2 * before
    assert host.bench.board.state == "running"


def test_dry_lap() -> None:
    """Friction climbs by more than 25 % in a minute, wetting does not help, the lap runs more unevenly, and
    in the end the board's own load limit stops it."""
    host = at_work("dry-lap")
    before = load(host.bench)
    early = unevenness(watched(host, 10.0, ratio))
    watched(host, 50.0, ratio)
    host.bench.wet()
    assert load(host.bench) > 1.25 * before
    assert unevenness(watched(host, 10.0, ratio)) > 1.5 * early
    assert load(host.bench) > 1.25 * before
    host.until_state("tripped", 150.0)
    assert host.reason == "overload"


def test_overload() -> None:
    """Something drags ever harder on the table: overload, not a grab, and power off."""
    host = at_work("overload")
    host.until_state("tripped", 2.5)
    assert host.reason == "overload"
    assert host.until_rest(1.0) < 1.0


def test_belt_slip() -> None:
    """The table falls a fifth behind its drive with no more load; found within 3 s of the slip."""
    host = at_work("belt-slip")
    before = load(host.bench)
    watched(host, 1.2, load)
    assert host.bench.plant.table_rpm == pytest.approx(0.8 * 26.0, abs=0.4)
    assert load(host.bench) < 1.15 * before
    host.until_state("slowing", 3.0)
    assert host.reason == "belt_slip"
    assert host.until_rest(3.0) < 3.0


def test_drive_stuck() -> None:
    """The drive runs an eighth too fast and obeys no speed, the stop's neither; the board takes its power."""
    host = at_work("drive-stuck")
    watched(host, 1.0, load)
    assert host.bench.plant.table_rpm == pytest.approx(1.125 * 26.0, abs=0.4)
    host.until_state("slowing", 3.0)
    assert host.reason == "drive_not_following"
    host.until_state("tripped", 4.0)
    assert not host.bench.board.powered
    assert host.until_rest(1.0) < 1.0


def test_runaway() -> None:
    """Found within half a second of passing the limit; power off; the peak stays below 45 rpm."""
    host = at_work("runaway")
    limit_rpm = 1.15 * 26.0 + 2.0
    speeds = watched(host, 1.0, lambda bench: bench.plant.table_rpm)
    past = [speed for speed in speeds if speed > limit_rpm]
    assert past
    assert max(past) < 45.0
    assert len(past) * 0.03 < 0.5
    assert host.reason == "overspeed"
    assert host.bench.board.state == "tripped"


def test_table_sensor_dead() -> None:
    """No edge more from the table: found within a second, and the table rests."""
    host = at_work("table-sensor-dead")
    host.until_state("slowing", 1.0)
    assert host.reason == "table_sensor_dead"
    assert host.until_rest(2.7) < 2.7


def test_table_sensor_noisy() -> None:
    """A quarter of the edges doubled, some lost: bad edges are counted and the board stops by ramp."""
    host = at_work("table-sensor-noisy")
    assert host.status is not None
    bad = host.status.bad_edges
    host.until_state("slowing", 15.0)
    assert host.reason == "table_sensor_noisy"
    assert host.status.bad_edges - bad > 5


def lap_stamps(host: RawHost) -> int:
    """Lap edges that reached the host."""
    return sum(len(edges.stamps_us) for edges in host.edges if edges.sensor == messages.LAP_SENSOR)


def test_lap_sensor_dead() -> None:
    """The lap turns on and its sensor is silent; nothing else changes, and the board does not stop."""
    host = at_work("lap-sensor-dead")
    watched(host, 0.3, ratio)
    edges = lap_stamps(host)
    ratios = watched(host, 20.0, ratio)
    assert lap_stamps(host) == edges
    assert min(ratios) > 0.8
    assert host.bench.board.state == "running"


def test_lap_sensor_noisy() -> None:
    """Between a fifth and a half of the lap's targets are missed."""
    host = at_work("lap-sensor-noisy")
    edges, turned = lap_stamps(host), host.bench.plant.lap_rad
    watched(host, 60.0, ratio)
    targets = (host.bench.plant.lap_rad - turned) / 6.283185307179586 * 12
    assert 0.5 < (lap_stamps(host) - edges) / targets < 0.85


def test_cable_out() -> None:
    """The plug comes out: the permit expires and the table rests within 0.6 s + w/2.0 + 0.2 s."""
    host = at_work("cable-out")
    assert host.until_rest(0.6 + 26.0 * 0.10472 / 2.0 + 0.2) > 1.0
    assert host.reason == "permit_expired"


def test_noisy_cable() -> None:
    """One to five frames in a hundred are damaged, both ways, none is believed, and the permit lives on."""
    host = at_work("noisy-cable")
    told = len(host.told)
    watched(host, 180.0, load)
    frames = 180.0 * 27
    assert 0.01 < host.dropped / frames < 0.05
    assert host.bench.board.controller.dropped_frames > 5
    assert host.bench.board.state == "running"
    stale = [
        m for _, m in host.told[told:] if not (isinstance(m, messages.Reply) and m.to_kind == messages.RENEW)
    ]
    assert stale == []


def test_board_reset() -> None:
    """The board starts anew: power off at once, boot told with its cause, and nothing turns by itself."""
    host = at_work("board-reset")
    host.step()
    assert not host.bench.board.powered
    watched(host, 5.0, load)
    boots = [m for _, m in host.told if isinstance(m, messages.Boot)]
    assert boots[-1].boot_counter == 2
    assert boots[-1].reset_cause == messages.BROWN_OUT
    assert host.bench.truth()[1:5] == (0.0, 0.0, False, "disarmed")


def test_board_hang() -> None:
    """A hung board gives no edges on the enable line: power gone in 0.15 s; the watchdog restarts it."""
    host = at_work("board-hang")
    powered = watched(host, 0.15, lambda bench: float(bench.board.powered))
    assert powered[-1] == 0.0
    assert host.until_rest(0.5) < 0.5
    watched(host, 2.0, load)
    boots = [m for _, m in host.told if isinstance(m, messages.Boot)]
    assert boots[-1].reset_cause == messages.WATCHDOG
    assert host.bench.board.state == "disarmed"


def test_relay_welded() -> None:
    """Nothing shows until the stop; then the power stays on: the board drops the contactor, locks itself."""
    host = at_work("relay-welded")
    watched(host, 5.0, load)
    assert host.bench.board.state == "running"
    host.stop()
    host.until_rest(5.0)
    host.until_state("disarmed", 2.0)
    assert host.bench.board.powered
    host.until_state("tripped", 1.5)
    assert host.reason == "power_not_off"
    watched(host, 0.1, load)
    assert not host.bench.board.powered
    host.say(messages.Reset(TOKEN, r.POWER_NOT_OFF))
    host.say(messages.Arm(TOKEN, 45000, 850, 1))
    watched(host, 0.2, load)
    refusals = [m.refusal for _, m in host.told if isinstance(m, messages.Reply)]
    assert r.refusal_name(refusals[-1]) in ("service_locked", "fault_latched")
    assert host.bench.plant.table_rad_s == 0.0


def test_estop() -> None:
    """The emergency stop takes the power by its own wire; the board reports it and trips."""
    host = at_work("estop")
    host.step()
    assert not host.bench.board.powered
    assert host.until_rest(0.5) < 0.5
    assert host.reason == "estop_open"
    assert host.bench.board.state == "tripped"


def test_pedal_stuck() -> None:
    """The pedal stays down: first a stop by the pedal, then the board says that it is stuck."""
    host = at_work("pedal-stuck")
    host.until_state("slowing", 1.5)
    assert host.reason == "pedal_stop"
    host.until_state("tripped", 15.0)
    assert host.reason == "pedal_stuck"


@pytest.mark.parametrize("name", ["disk-full", "clock-jump", "host-hang", "suspend"])
def test_what_befalls_the_host_is_only_told(name: str) -> None:
    """The bench runs on as if nothing were; the host is told once its time has come."""
    bench = make_bench(f"{name}@5")
    bench.advance(4.0)
    assert bench.host_mishaps(4.0) == []
    bench.advance(6.0)
    assert [planned.mishap.name for planned in bench.host_mishaps(6.0)] == [name]
    assert bench.truth().mishap == name


def test_a_mishap_planned_while_running() -> None:
    """A mishap may be added while the bench runs; it begins at its time, beside those already planned."""
    bench = make_bench("lap-sensor-dead@30")
    bench.advance(2.0)
    bench.plan(parse_mishap("estop@3"))
    bench.plan(parse_mishap("table-sensor-dead@1"))
    bench.advance(2.5)
    assert bench.plant.table_pickup.dead
    assert bench.mishap == "table-sensor-dead"
    bench.advance(3.5)
    assert bench.board.estop_pressed
    assert not bench.plant.lap_pickup.dead
    bench.advance(30.5)
    assert bench.plant.lap_pickup.dead
