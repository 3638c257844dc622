"""`benchctl` without a command: the bench screen, or lines where there is no terminal."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchctl.assembly.build import Parts
    from benchctl.models.job import Job
    from benchctl.session.live import BenchLoop
    from benchctl.simulator.mishaps import Planned

DEMO_PACE = 20.0
"""A demo segment of 16 minutes takes about one: 45 s to the call for water, then up to 15 s."""


def open_bench(args: argparse.Namespace) -> int:
    """Open the configured bench, or the simulated one with the demo job; exit status."""
    from benchctl.models.bench_config import configured_bench
    from benchctl.models.job import demo_job, read_job

    bench = configured_bench()
    job = demo_job() if bench is None or bench.job is None else read_job(Path(bench.job))
    port = None if bench is None else bench.port
    if port is None and not args.plain and not (sys.stdin.isatty() and sys.stdout.isatty()):
        return _play(job, args.units)
    plain = args.plain or not _on_terminal()
    return _open(job, port, args, plain=plain, seed=1, mishaps=[], pace=DEMO_PACE)


def screen_for(job: Job, args: argparse.Namespace, mishaps: list[Planned]) -> int:
    """The screen for `benchctl run` without --headless."""
    pace = 1.0 if args.pace == "live" else DEMO_PACE
    plain = args.plain or not _on_terminal()
    return _open(job, args.port, args, plain=plain, seed=args.seed, mishaps=mishaps, pace=pace)


def _on_terminal() -> bool:
    """Whether keys come from a terminal and both outputs go to it; the screen is drawn on standard error."""
    return all(stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr))


def _play(job: Job, system: str | None) -> int:
    """No terminal: the segment runs by itself on the simulated bench, at full pace, told in lines."""
    from benchctl.assembly.build import build_simulated
    from benchctl.assembly.places import logbook_folder
    from benchctl.assembly.stepped import Stepper
    from benchctl.cli.telling import Teller, finish
    from benchctl.models.preferences import preferences
    from benchctl.simulator.operator import Operator

    teller = Teller(as_json=False, system=preferences(system).units, to=sys.stdout)
    teller.say(
        f"SIMULATED: {job.mirror.name}, {job.segment.length_s / 60:g} min at {job.segment.work_rpm:g} rpm"
    )
    folder = logbook_folder(None, simulated=True, job=job)
    parts = build_simulated(job, folder, seed=1, stepped=True, listen=teller.take)
    try:
        stepper = Stepper(parts, Operator("attentive", 1))
        while not stepper.over:
            stepper.step()
            teller.flush()
    finally:
        unkept = parts.close()
    return finish(parts, teller, as_json=False, unkept=unkept)


def _open(
    job: Job,
    port: str | None,
    args: argparse.Namespace,
    *,
    plain: bool,
    seed: int,
    mishaps: list[Planned],
    pace: float,
) -> int:
    from benchctl.models.preferences import preferences

    preferred = preferences(args.units, args.theme)
    parts, loop = _bench(job, port, args, seed, mishaps, pace)
    loop.start()
    try:
        from benchctl.assembly.places import state_folder
        from benchctl.cli.places import places_for

        places = places_for(parts, preferred)
        if plain:
            from benchctl.tui.plain import run_plain

            status = run_plain(loop, sys.stdout, places=places, state_folder=state_folder())
        else:
            from benchctl.tui.app import run_screen

            status = run_screen(loop, places=places, state_folder=state_folder())
    finally:
        loop.stop_and_close()
        unkept = parts.close()
    if unkept:
        print(f"{unkept} record(s) could not be written to {parts.keeper.folder}", file=sys.stderr)
    if parts.recording_trouble:
        print(parts.recording_trouble, file=sys.stderr)
    return status


def _bench(
    job: Job, port: str | None, args: argparse.Namespace, seed: int, mishaps: list[Planned], pace: float
) -> tuple[Parts, BenchLoop]:
    from benchctl.assembly.build import build_on_port, build_simulated
    from benchctl.assembly.places import logbook_folder
    from benchctl.assembly.ports import open_port
    from benchctl.assembly.rehearsal import rehearsal_loop
    from benchctl.session.live import BenchLoop

    folder = logbook_folder(getattr(args, "logbook", None), simulated=port is None, job=job)
    record = getattr(args, "record", None)
    if port is None:
        parts = build_simulated(
            job, folder, seed=seed, mishaps=mishaps, stepped=False, draw_marks=True, record=record
        )
        return parts, rehearsal_loop(parts, pace)
    transport, warning = open_port(port, record)
    if warning:
        print(warning, file=sys.stderr)
    parts = build_on_port(job, folder, transport, warning=warning)
    return parts, BenchLoop(parts.runner, parts.clock)
