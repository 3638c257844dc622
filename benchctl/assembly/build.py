"""A runner with all its parts, on the simulated bench or on a port."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from benchctl.clock import Clock, SteppedClock, SystemClock
from benchctl.lapwatch import LapWatch, WatchSettings
from benchctl.link.board import BoardLink
from benchctl.link.transport import Transport
from benchctl.logbook.interrupted import close_open_segments
from benchctl.logbook.keeper import RecordKeeper
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.job import Job
from benchctl.physics.contact import Contact
from benchctl.physics.spin import predicted_load_jump, predicted_spin
from benchctl.session.bookkeeping import SegmentFacts
from benchctl.session.journal import Journal
from benchctl.session.runner import Runner
from benchctl.simulator.mishaps import Planned
from benchctl.simulator.simulated import SimulatedBench

Listener = Callable[[dict[str, object]], None]

LAP_TARGETS = 12
TABLE_TARGETS = 24
BOARD_TICK_S = 1e-6


class Disk:
    """The disk that the simulated bench's records go to; a mishap can fill it."""

    def __init__(self) -> None:
        self.full = False

    def write(self, descriptor: int, data: bytes) -> int:
        """As os.write, unless the disk is full."""
        if self.full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return os.write(descriptor, data)


@dataclass
class Parts:
    """A bench put together; `close` gives port and logbook back."""

    runner: Runner
    link: BoardLink
    keeper: RecordKeeper
    clock: Clock
    plant: SimulatedBench | None
    disk: Disk
    mishaps: list[Planned] = field(default_factory=list)
    """Mishaps of the simulated bench, timed from the moment its table is told to turn."""

    def release_mishaps(self) -> None:
        """Hand the mishaps to the plant, once the table has been told to turn."""
        run_at_s = self.runner.engine.run_at_s
        if self.mishaps and run_at_s is not None and self.plant is not None:
            for planned in self.mishaps:
                self.plant.plan(planned._replace(at_s=run_at_s + planned.at_s))
            self.mishaps.clear()

    def close(self) -> int:
        """Close link and logbook; the number of records that could not be kept."""
        self.link.close()
        return self.keeper.close()


def open_keeper(folder: Path, clock: Clock, disk: Disk, *, threaded: bool) -> tuple[RecordKeeper, str]:
    """The logbook's keeper, and in a sentence what an earlier program left unfinished (empty: nothing)."""
    writer = LogbookWriter(folder, write=disk.write)
    left = close_open_segments(writer, at=clock.wall(), mono_s=clock.monotonic_s())
    keeper = RecordKeeper(writer, threaded=threaded)
    return keeper, left[-1].sentence() if left else ""


def predictions(job: Job) -> tuple[float | None, float | None]:
    """The spin ratio that the geometry predicts, and the share by which a stall would raise the load."""
    mirror, lap, setup = job.mirror, job.lap, job.setup
    contact = Contact(mirror.radius_m, lap.radius_m, setup.post_offset_m, mirror.hole_radius_m)
    ratio = predicted_spin(
        contact, load_n=job.load_n, friction_coefficient=setup.friction, post_drag_nm=setup.post_drag_nm
    )
    jump = predicted_load_jump(contact, load_n=job.load_n, spin_ratio=ratio)
    return round(ratio, 4), max(0.0, jump - 1.0)


def build_watch(job: Job, load_jump: float | None) -> LapWatch:
    """The lap watcher for this set-up."""
    return LapWatch(
        WatchSettings(
            targets_per_turn=LAP_TARGETS,
            clock_tick_s=BOARD_TICK_S,
            mirror_radius_m=job.mirror.radius_m,
            lap_radius_m=job.lap.radius_m,
            post_offset_m=job.setup.post_offset_m,
            hole_radius_m=job.mirror.hole_radius_m,
            table_edges_per_turn=TABLE_TARGETS,
            load_jump=load_jump,
        )
    )


def _join(
    job: Job,
    facts: SegmentFacts,
    transport: Transport,
    owner: int,
    keeper: RecordKeeper,
    clock: Clock,
    listen: Listener | None,
) -> tuple[Runner, BoardLink]:
    ratio, jump = predictions(job)
    link = BoardLink(transport, owner)
    facts = replace(facts, predicted_ratio=ratio)
    return Runner(link, facts, build_watch(job, jump), Journal(keeper, clock, listen)), link


def build_simulated(
    job: Job,
    folder: Path,
    *,
    seed: int,
    mishaps: Sequence[Planned] = (),
    stepped: bool,
    pace: float | None = None,
    mark: int | None = None,
    listen: Listener | None = None,
) -> Parts:
    """The simulated bench. `stepped` runs on a clock that whoever steps the parts moves by hand."""
    clock: Clock = SteppedClock(wall_start=SystemClock().wall()) if stepped else SystemClock()
    disk = Disk()
    keeper, left = open_keeper(folder, clock, disk, threaded=not stepped)
    plant = SimulatedBench(job, seed=seed)
    facts = SegmentFacts(job, simulated=True, mark=mark, seed=seed, pace=pace, recovered=left)
    owner = (seed * 2654435761 + 1) & 0x7FFFFFFF or 1
    runner, link = _join(job, facts, plant.cable.host, owner, keeper, clock, listen)
    return Parts(runner, link, keeper, clock, plant, disk, list(mishaps))


def build_on_port(
    job: Job, folder: Path, transport: Transport, *, mark: int | None = None, listen: Listener | None = None
) -> Parts:
    """A bench behind a transport that is open already, in life's time."""
    clock, disk = SystemClock(), Disk()
    keeper, left = open_keeper(folder, clock, disk, threaded=True)
    facts = SegmentFacts(job, simulated=False, mark=mark, recovered=left)
    owner = secrets.randbelow(0x7FFFFFFF) + 1
    runner, link = _join(job, facts, transport, owner, keeper, clock, listen)
    return Parts(runner, link, keeper, clock, None, disk)
