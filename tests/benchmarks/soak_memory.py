"""A day at the bench in simulated time, one program, segment after segment: memory and files stay flat.

    python -m tests.benchmarks.soak_memory [HOURS]      about five minutes of one processor for 24 hours

Prints memory and open files each hour, and the growth after the first one.
"""

from __future__ import annotations

import gc
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.stepped import Stepper, over
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job
from benchctl.session.acts import Act, Done
from benchctl.simulator.operator import Operator

PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")
SEGMENT_MIN = 20.0
BETWEEN_S = 2.0


class Hour(NamedTuple):
    """What the process held after so many simulated hours."""

    hours: float
    segments: int
    rss_kib: int
    files: int
    log_kib: int


def held(hours: float, segments: int, folder: Path) -> Hour:
    """What this process holds now (Linux)."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    files = len(list(Path("/proc/self/fd").iterdir()))
    log = sum(path.stat().st_size for path in folder.glob("*.jsonl"))
    return Hour(hours, segments, pages * PAGE_BYTES // 1024, files, log // 1024)


def settle(parts: Parts, stepper: Stepper) -> None:
    """The lap lifted, the glass looked at, the next segment made ready."""
    for act in (Act.LIFTED, Act.LOOKED, Act.ACKNOWLEDGE, Act.RESET, Act.NEXT):
        parts.runner.do(Done(act))
        until_s = stepper.now_s + BETWEEN_S
        while stepper.now_s < until_s:
            stepper.step()


def soak(hours: float, folder: Path) -> Iterator[Hour]:
    """Segments of 20 minutes with an attentive person, until `hours` are over."""
    job = demo_job().with_minutes(SEGMENT_MIN)
    parts = build_simulated(job, folder, seed=1, stepped=True, draw_marks=True)
    stepper = Stepper(parts, None)
    segments, due_s = 0, 3600.0
    while stepper.now_s < hours * 3600.0:
        stepper.operator = Operator("attentive", segments)
        begun_s = stepper.now_s
        while not over(parts, stepper.host_s) or stepper.now_s - begun_s < 5.0:
            stepper.step()
            if stepper.now_s >= due_s:
                yield held(due_s / 3600.0, segments, folder)
                due_s += 3600.0
        stepper.operator = None
        settle(parts, stepper)
        segments += 1
    parts.close()
    book = read(folder)
    ends = [entry.fields["outcome"] for entry in book.of_kind("segment_end")]
    assert book.sound
    assert len(ends) == segments
    assert set(ends) == {"completed"}, ends


def growth(told: list[Hour]) -> tuple[int, int]:
    """KiB of memory and number of files gained after the first hour, the largest of any later hour."""
    first, later = told[0], told[1:]
    most = max((hour.rss_kib for hour in later), default=first.rss_kib)
    files = max((hour.files for hour in later), default=first.files)
    return most - first.rss_kib, files - first.files


def main() -> None:
    """Print the hours and the growth; exit status 1 where it passes 1 MB or a file."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    told: list[Hour] = []
    with tempfile.TemporaryDirectory() as name:
        for hour in soak(hours, Path(name)):
            told.append(hour)
            print(
                f"{hour.hours:4.0f} h  {hour.segments:3} segments  {hour.rss_kib:7} KiB  {hour.files} files  "
                f"logbook {hour.log_kib} KiB",
                flush=True,
            )
    kib, files = growth(told)
    print(f"after the first hour: {kib:+} KiB, {files:+} files")
    sys.exit(1 if kib > 1024 or files > 0 else 0)


if __name__ == "__main__":
    main()
