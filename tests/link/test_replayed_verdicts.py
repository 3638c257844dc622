"""A recorded segment, replayed, leads the lap watcher to the same verdicts at the same moments."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from benchctl.clock import SteppedClock
from benchctl.lapwatch import LapWatch, WatchSettings
from benchctl.link.board import BoardLink
from benchctl.link.recording import RecordingTransport, play, read_recording
from benchctl.models.job import demo_job
from benchctl.models.readings import LapPulse, Reading, Status, TablePulse
from tests.simulator.raw_host import make_bench

STEP_S = 0.02
RUN_RPM = 20.0


def watch_settings() -> WatchSettings:
    """The demo job on the simulated bench's sensors."""
    job = demo_job()
    return WatchSettings(
        targets_per_turn=12,
        clock_tick_s=1e-6,
        mirror_radius_m=job.mirror.radius_m,
        lap_radius_m=job.lap.radius_m,
        post_offset_m=job.setup.post_offset_m,
        table_edges_per_turn=24,
        load_jump=0.2,
    )


def verdicts(readings: Iterable[Reading]) -> list[tuple[float, str]]:
    """Each change of the lap's state, with the board's time of the status at which it was seen."""
    watch, changes = LapWatch(watch_settings()), [(0.0, "")]
    for reading in readings:
        if isinstance(reading, LapPulse):
            watch.pulse(reading.at_s)
        elif isinstance(reading, TablePulse):
            watch.table_pulse(reading.at_s)
        elif isinstance(reading, Status):
            watch.status(reading.at_s, reading.set_rpm, reading.table_rpm, reading.load_percent)
            if watch.verdict.state != changes[-1][1]:
                changes.append((reading.at_s, watch.verdict.state))
    return changes


def recorded_segment(path: Path) -> list[Reading]:
    """A minute at 20 rpm on the simulated bench, in which the lap stalls; what was heard of the board."""
    bench, clock = make_bench("lap-stall@45"), SteppedClock(2.0)
    bench.advance(2.0)
    link = BoardLink(RecordingTransport(bench.transport, str(path), clock), 7)
    heard: list[Reading] = []
    acts = {
        50: lambda: link.arm(clock.now_s, 40.0),
        100: lambda: link.run(clock.now_s, RUN_RPM, 600.0, 600.0, 0.0),
        3200: lambda: link.stop(clock.now_s, False, "lap_stalled"),
    }
    for step in range(3400):
        heard += link.poll(clock.now_s)
        if step in acts:
            acts[step]()
        if step % 7 == 0:
            link.renew(clock.now_s)
        clock.sleep(STEP_S)
        bench.advance(clock.now_s)
    link.close()
    return heard


def test_a_replay_has_the_same_verdicts(tmp_path: Path) -> None:
    """Readings and verdicts of the replay are those of the recorded segment, one for one."""
    heard = recorded_segment(tmp_path / "kept.jsonl")
    replayed = [reading for _, some in play(read_recording(tmp_path / "kept.jsonl")) for reading in some]
    assert replayed == heard
    seen = verdicts(heard)
    assert "stalled" in [state for _, state in seen]
    assert verdicts(replayed) == seen
