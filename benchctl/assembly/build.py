"""A runner with all its parts, on the simulated bench or on a port."""

from __future__ import annotations

import errno
import math
import os
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from importlib import metadata
from pathlib import Path
from typing import TypeVar

from benchctl.assembly.begun_with import BegunWith
from benchctl.assembly.lap_memory import learned, watcher
from benchctl.clock import Clock, MovableClock, SteppedClock, SystemClock
from benchctl.lapwatch import LapWatch, WatchSettings
from benchctl.link.board import BoardLink
from benchctl.link.recording import RecordingTransport, ended_early
from benchctl.link.transport import Transport
from benchctl.logbook.files import why_no_segment
from benchctl.logbook.interrupted import close_open_segments
from benchctl.logbook.keeper import RecordKeeper
from benchctl.logbook.presses import close_open_presses
from benchctl.logbook.reader import Logbook, read
from benchctl.logbook.writer import LogbookWriter
from benchctl.models.job import Job
from benchctl.physics.contact import Contact
from benchctl.physics.drying import evaporation_kg_m2_s, time_to_dry_s
from benchctl.physics.spin import predicted_load_jump, predicted_spin
from benchctl.physics.stopping import loose_weight_rpm
from benchctl.session.bookkeeping import SegmentFacts
from benchctl.session.journal import Journal
from benchctl.session.preparation import Preparation
from benchctl.session.recorded import RecordedRunner, SampledJournal, SampledKeeper
from benchctl.session.runner import Runner
from benchctl.simulator.constants import BenchConstants
from benchctl.simulator.mishaps import Planned, parse_mishap
from benchctl.simulator.simulated import SimulatedBench

KindOfRunner = TypeVar("KindOfRunner", bound=Runner)
Listener = Callable[[dict[str, object]], None]

BOARD_TICK_S = 1e-6
HURRIED = BenchConstants(control_s=0.025)
"""In stepped time the board's loop turns every 25 ms instead of 10: less work, the same rules."""
MOST_SEED = 0x7FFFFFFF
RAD_S_PER_RPM = 2.0 * math.pi / 60.0


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
    transport: Transport
    mishaps: list[Planned] = field(default_factory=list)
    """Mishaps of the simulated bench, timed from the moment its table is told to turn."""

    def release_mishaps(self) -> None:
        """Hand the mishaps to the plant, once the table has been told to turn."""
        run_at_s = self.runner.engine.run_at_s
        while self.mishaps and run_at_s is not None and self.plant is not None:
            planned = self.mishaps.pop(0)
            self.plant.plan(planned._replace(at_s=run_at_s + planned.at_s))

    def play(self, name: str) -> None:
        """Set off a mishap of the simulated bench now, or as soon as its table is told to turn."""
        at_s = self.runner.at_s(self.runner.at.now_s)
        self.mishaps.append(parse_mishap(f"{name}@{at_s:.3f}"))

    @property
    def recording_trouble(self) -> str:
        """In a sentence that the recording ended before its time; empty where it did not."""
        return ended_early(self.transport)

    def close(self) -> int:
        """Close link and logbook; the number of records that could not be kept."""
        self.link.close()
        return self.keeper.close()


def open_keeper(
    folder: Path, clock: Clock, disk: Disk, *, threaded: bool
) -> tuple[RecordKeeper, Logbook, str]:
    """The logbook's keeper, what it held, and in a sentence what was left unfinished (empty: nothing)."""
    writer = LogbookWriter(folder, program=f"benchctl {metadata.version('benchctl')}", write=disk.write)
    at, mono_s = clock.wall(), clock.monotonic_s()
    segments = close_open_segments(writer, at=at, mono_s=mono_s)
    presses = close_open_presses(writer, at=at, mono_s=mono_s)
    told = [one.sentence() for one in segments[-1:]] + [one.sentence() for one in presses[-1:]]
    book = read(folder, quick=True) if told else writer.history  # the marks must see what was just closed
    return RecordKeeper(writer, threaded=threaded), book, " ".join(told)


def predictions(job: Job) -> tuple[float | None, float | None]:
    """The spin ratio that the geometry predicts, and the share by which a stall would raise the load."""
    mirror, lap, setup = job.mirror, job.lap, job.setup
    contact = Contact(mirror.radius_m, lap.radius_m, setup.post_offset_m, mirror.hole_radius_m)
    ratio = predicted_spin(
        contact, load_n=job.load_n, friction_coefficient=setup.friction, post_drag_nm=setup.post_drag_nm
    )
    jump = predicted_load_jump(contact, load_n=job.load_n, spin_ratio=ratio)
    return round(ratio, 4), max(0.0, jump - 1.0)


def watch_settings(job: Job, load_jump: float | None, lap_targets: int, table_targets: int) -> WatchSettings:
    """What the lap watcher must know of this set-up and these sensors."""
    return WatchSettings(
        targets_per_turn=lap_targets,
        clock_tick_s=BOARD_TICK_S,
        mirror_radius_m=job.mirror.radius_m,
        lap_radius_m=job.lap.radius_m,
        post_offset_m=job.setup.post_offset_m,
        hole_radius_m=job.mirror.hole_radius_m,
        table_edges_per_turn=table_targets,
        load_jump=load_jump,
    )


def weights_rpm(job: Job) -> float:
    """The highest speed at which the weights stay put on the lap; infinite where all are captured."""
    return math.inf if job.setup.weights_captured else loose_weight_rpm(job.setup.loose_radius_m)


def make_runner(
    facts: SegmentFacts,
    link: BoardLink,
    journal: Journal,
    marks: Preparation | None,
    memory: dict[str, object],
    kind: type[KindOfRunner],
) -> KindOfRunner:
    """A runner of this kind with its watcher, which begins with what was learned before."""
    job, room = facts.job, facts.job.room
    ratio, jump = predictions(job)
    rim_m_s = job.segment.work_rpm * RAD_S_PER_RPM * job.mirror.radius_m
    leaving = evaporation_kg_m2_s(room.temperature_c, room.humidity, max(room.draught_m_s, rim_m_s))
    facts = replace(
        facts,
        predicted_ratio=ratio,
        time_to_dry_s=time_to_dry_s(room.film_m, leaving),
        weights_rpm=weights_rpm(job),
    )

    def watch_for(lap: int, table: int) -> LapWatch:
        return watcher(watch_settings(job, jump, lap, table), memory)

    return kind(link, facts, watch_for, journal, marks)


def _parts(
    facts: SegmentFacts,
    transport: Transport,
    owner: int,
    keeper: RecordKeeper,
    clock: Clock,
    disk: Disk,
    *,
    listen: Listener | None,
    marks: Preparation | None,
    memory: dict[str, object],
    plant: SimulatedBench | None = None,
) -> Parts:
    """All of it together; over a transport that records, what is needed to run it again is recorded too."""
    link = BoardLink(transport, owner)

    def room() -> str | None:
        return why_no_segment(keeper.folder)

    if not isinstance(transport, RecordingTransport):
        runner = make_runner(facts, link, Journal(keeper, clock, listen, room), marks, memory, Runner)
        return Parts(runner, link, keeper, clock, plant, disk, transport)
    journal = SampledJournal(SampledKeeper(keeper), clock, listen, room)
    recorded = make_runner(facts, link, journal, marks, memory, RecordedRunner)
    transport.tell("session", BegunWith(recorded.facts, owner, memory).told())
    recorded.witness(journal, lambda told: transport.tell("step", told))
    return Parts(recorded, link, keeper, clock, plant, disk, transport)


def _marks(job: Job, book: Logbook, seed: Callable[[], int]) -> Preparation:
    return Preparation(book, job, seed)


def build_simulated(
    job: Job,
    folder: Path,
    *,
    seed: int,
    mishaps: Sequence[Planned] = (),
    stepped: bool,
    draw_marks: bool = False,
    listen: Listener | None = None,
    plant: SimulatedBench | None = None,
    record: str | None = None,
) -> Parts:
    """The simulated bench. `stepped` runs on a clock that whoever steps the parts moves by hand.
    `plant` is a bench that was there before this program; without it a new one is made for the job.
    `record` names a new file in which the wire and the person's acts are kept.

    Marks are drawn, and what the watcher learned before is used, only where that is asked for: both depend
    on the logbook, and a seeded run without a person must give the same events whatever the logbook holds.
    """
    clock: Clock = SteppedClock(wall_start=SystemClock().wall()) if stepped else MovableClock()
    disk = Disk()
    keeper, book, left = open_keeper(folder, clock, disk, threaded=not stepped)
    plant = plant or SimulatedBench(job, seed=seed, constants=HURRIED if stepped else None)
    transport: Transport = plant.cable.host
    if record is not None:
        transport = RecordingTransport(transport, record, clock)
    owner = (seed * 2654435761 + 1) & 0x7FFFFFFF or 1
    marks = _marks(job, book, lambda: secrets.randbelow(MOST_SEED)) if draw_marks else None
    memory = learned(book, job, simulated=True) if draw_marks else {}
    facts = SegmentFacts(job, simulated=True, mark=job.marks.start, seed=seed, recovered=left)
    parts = _parts(
        facts, transport, owner, keeper, clock, disk, listen=listen, marks=marks, memory=memory, plant=plant
    )
    parts.mishaps += mishaps
    return parts


def build_on_port(
    job: Job, folder: Path, transport: Transport, *, warning: str = "", listen: Listener | None = None
) -> Parts:
    """A bench behind a transport that is open already, in life's time; `warning` as from opening it."""
    clock, disk = SystemClock(), Disk()
    keeper, book, left = open_keeper(folder, clock, disk, threaded=True)
    owner = secrets.randbelow(MOST_SEED) + 1
    marks = _marks(job, book, lambda: secrets.randbelow(MOST_SEED))
    facts = SegmentFacts(job, simulated=False, recovered=left, port_warning=warning)
    memory = learned(book, job, simulated=False)
    return _parts(facts, transport, owner, keeper, clock, disk, listen=listen, marks=marks, memory=memory)
