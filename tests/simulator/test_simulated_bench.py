"""Plant, real controller and cable together, spoken to in raw messages."""

from __future__ import annotations

import pytest

from benchctl.errors import LinkLost
from firmware_protocol import messages
from tests.simulator.raw_host import RawHost, make_bench


def test_a_short_segment_from_arm_to_rest() -> None:
    """Armed, run, sped up, renewed and stopped as planned: the board ends disarmed, the table at rest."""
    bench = make_bench(seed=2)
    host = RawHost(bench)
    host.start(6.0)
    host.until(20.0)
    assert bench.plant.table_rpm == pytest.approx(6.0, abs=0.1)
    host.set_speed(26.0)
    host.until(40.0)
    assert bench.plant.table_rpm == pytest.approx(26.0, abs=0.3)
    assert host.status is not None
    assert host.status.table_mrpm == pytest.approx(26000, abs=600)
    assert 0.80 < bench.plant.lap_rpm / bench.plant.table_rpm < 1.0
    assert 350 < host.status.load_permille < 500
    host.stop()
    took_s = host.until_rest(4.5)
    host.until_state("disarmed", 2.0)
    assert 2.5 < took_s < 4.0
    assert host.reason == "planned_end"
    assert host.dropped == 0


def test_nothing_turns_before_it_is_asked() -> None:
    """The bench starts at rest, disarmed, without power, and stays so."""
    bench = make_bench()
    bench.advance(30.0)
    assert bench.truth() == (30.0, 0.0, 0.0, False, "disarmed", None)


def test_silence_stops_the_table() -> None:
    """A host that dies at 35 rpm: permit expired after 0.6 s, at rest within 2.7 s."""
    for seed in range(6):
        bench = make_bench(seed=seed)
        host = RawHost(bench)
        host.start(35.0)
        host.until(20.0 + 0.04 * seed)
        host.alive = False
        assert host.until_rest(2.7) > 1.0
        host.until_state("tripped", 2.0)
        assert host.reason == "permit_expired"


def test_same_seed_same_bytes() -> None:
    """The same seed and the same orders give the same bytes on the cable; another seed gives others."""
    said = []
    for seed in (5, 5, 6):
        host = RawHost(make_bench("lap-sensor-noisy@15", seed=seed))
        host.start(14.0)
        host.until(25.0)
        said.append(bytes(host.bytes_read))
    assert said[0] == said[1] != said[2]


def test_a_mishap_does_not_shift_other_chances() -> None:
    """A dead lap sensor leaves the table's edges and the plant's wander as they were."""
    runs = []
    for mishaps in ((), ("lap-sensor-dead@10",)):
        bench = make_bench(*mishaps, seed=9)
        host = RawHost(bench)
        host.start(14.0)
        host.until(30.0)
        table = [edges.stamps_us for edges in host.edges if edges.sensor == messages.TABLE_SENSOR]
        runs.append((table, bench.plant.lap_rad))
    assert runs[0] == runs[1]


def test_the_far_end_sees_a_pulled_plug() -> None:
    """With the plug out, reading and writing at the computer's end raise LinkLost."""
    bench = make_bench("cable-out@1")
    bench.advance(1.1)
    with pytest.raises(LinkLost):
        bench.transport.read()
    with pytest.raises(LinkLost):
        bench.transport.write(b"x")
    bench.transport.close()


def test_sensors_can_have_other_targets() -> None:
    """The board is told how many targets its sensors have."""
    from dataclasses import replace

    from benchctl.simulator.constants import BenchConstants, SensorData

    constants = replace(BenchConstants(), lap_sensor=SensorData(targets=6, placement_deg=1.0))
    bench = make_bench(constants=constants)
    assert (bench.table_targets, bench.lap_targets) == (24, 6)
    assert bench.board.controller.settings.lap_edges_per_turn == 6
    host = RawHost(bench)
    host.start(14.0)
    host.until(30.0)
    lap_turns = bench.plant.lap_rad / 6.283185307179586
    assert host.status is not None
    assert host.status.lap_edges / 6 == pytest.approx(lap_turns, abs=0.5)
