"""`benchctl run`: one segment, on the simulated bench or on a port, with or without a screen."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchctl.cli.telling import Teller, finish, tell_first

if TYPE_CHECKING:
    from benchctl.assembly.build import Parts
    from benchctl.models.job import Job
    from benchctl.simulator.mishaps import Planned

HELP = "run one segment"


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "run",
        help=HELP,
        description="Run one segment. With --headless on a port, starting takes two acts: the command arms, "
        "then waits for the line 'run' on standard input, or is given --start besides.",
    )
    parser.add_argument(
        "job", nargs="?", metavar="JOB.toml", help="the mirror's file; 'demo' for the one shipped"
    )
    parser.add_argument("--headless", action="store_true", help="no screen")
    bench = parser.add_mutually_exclusive_group()
    bench.add_argument("--simulated", action="store_true", help="on the simulated bench")
    bench.add_argument("--port", metavar="PORT", help="on the board at PORT; bench.toml's by default")
    parser.add_argument(
        "--pace", choices=("live", "max"), default="live", help="simulated time: life's or full"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="seed of the simulated bench")
    parser.add_argument(
        "--operator",
        choices=("attentive", "slow", "absent"),
        default="attentive",
        help="with --headless --simulated: who answers the calls",
    )
    parser.add_argument(
        "--mishap",
        action="append",
        default=[],
        metavar="NAME@SECONDS",
        help="something goes wrong so long after the start; may be given several times",
    )
    parser.add_argument("--list-mishaps", action="store_true", help="name every mishap and stop")
    parser.add_argument("--minutes", type=float, metavar="M", help="another length of the segment")
    parser.add_argument("--logbook", metavar="FOLDER", help="where the records go (the one the file names)")
    parser.add_argument("--json", action="store_true", help="events and record as JSON, one a line")
    parser.add_argument("--start", action="store_true", help="on a port: run as soon as the board is armed")
    parser.add_argument("--record", metavar="FILE", help="keep the wire and the acts in FILE")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Exit status of one segment: 0 done, 2 refused, 3 stopped, 4 the link failed."""
    from benchctl.errors import BadInput

    if args.list_mishaps:
        return _list_mishaps()
    _fill_in(args)
    if args.job is None:
        raise BadInput("run: no job was given; name a job file, or 'demo' for the one shipped")
    if not args.simulated and args.port is None:
        raise BadInput("run: say on what: --simulated, or --port PORT (there is no bench.toml)")
    job = _job(args)
    mishaps = _mishaps(args)
    if not args.headless:
        from benchctl.cli.bench import screen_for

        return screen_for(job, args, mishaps)
    if args.port is not None:
        return _on_port(job, args)
    if args.pace == "max":
        return _stepped(job, args, mishaps)
    return _simulated_live(job, args, mishaps)


def _fill_in(args: argparse.Namespace) -> None:
    """Take from bench.toml what was not said: the port, and for a real bench the job."""
    if args.simulated:
        return
    from benchctl.models.bench_config import configured_bench

    bench = configured_bench()
    if bench is None:
        return
    if args.port is None:
        args.port = bench.port
        print(f"on the port of bench.toml: {bench.port}", file=sys.stderr)
    if args.job is None:
        args.job = bench.job


def _list_mishaps() -> int:
    from benchctl.simulator.mishaps import MISHAPS

    width = max(len(mishap.name) for mishap in MISHAPS)
    for mishap in MISHAPS:
        print(f"{mishap.name:{width}}  {mishap.line}")
    return 0


def _job(args: argparse.Namespace) -> Job:
    from benchctl.models.job import read_job

    job = read_job(Path(args.job))
    return job if args.minutes is None else job.with_minutes(args.minutes)


def _mishaps(args: argparse.Namespace) -> list[Planned]:
    from benchctl.errors import BadInput
    from benchctl.simulator.mishaps import parse_mishap

    if args.mishap and args.port is not None:
        raise BadInput("--mishap: mishaps are played on the simulated bench only; use --simulated")
    return [parse_mishap(text) for text in args.mishap]


def _folder(args: argparse.Namespace, job: Job, *, simulated: bool) -> Path:
    from benchctl.assembly.places import logbook_folder

    return logbook_folder(args.logbook, simulated=simulated, job=job)


def _rehearsal(
    job: Job, args: argparse.Namespace, mishaps: list[Planned], teller: Teller, *, stepped: bool
) -> Parts:
    from benchctl.assembly.build import build_simulated

    return build_simulated(
        job,
        _folder(args, job, simulated=True),
        seed=args.seed,
        mishaps=mishaps,
        stepped=stepped,
        listen=teller.take,
        record=args.record,
    )


def _stepped(job: Job, args: argparse.Namespace, mishaps: list[Planned]) -> int:
    from benchctl.assembly.stepped import Stepper
    from benchctl.simulator.operator import Operator

    teller = _teller(args)
    parts = _rehearsal(job, args, mishaps, teller, stepped=True)
    tell_first(parts, teller)
    try:
        stepper = Stepper(parts, Operator(args.operator, args.seed))
        while not stepper.over:
            stepper.step()
            teller.flush()
    finally:
        unkept = parts.close()
    return finish(parts, teller, as_json=args.json, unkept=unkept)


def _simulated_live(job: Job, args: argparse.Namespace, mishaps: list[Planned]) -> int:
    from benchctl.assembly.rehearsal import scripted_loop

    teller = _teller(args)
    parts = _rehearsal(job, args, mishaps, teller, stepped=False)
    loop = scripted_loop(parts, args.operator, args.seed)
    return _headless(parts, loop, teller, args, start=True)


def _on_port(job: Job, args: argparse.Namespace) -> int:
    from benchctl.assembly.build import build_on_port
    from benchctl.assembly.ports import open_port
    from benchctl.session.live import BenchLoop

    teller = _teller(args)
    transport, warning = open_port(args.port, args.record)
    if warning:
        teller.say(warning)
    folder = _folder(args, job, simulated=False)
    parts = build_on_port(job, folder, transport, warning=warning, listen=teller.take)
    return _headless(parts, BenchLoop(parts.runner, parts.clock), teller, args, start=args.start)


def _teller(args: argparse.Namespace) -> Teller:
    from benchctl.models.preferences import preferences

    return Teller(as_json=args.json, system=preferences(args.units).units)


def _headless(parts: Parts, loop: Any, teller: Teller, args: argparse.Namespace, *, start: bool) -> int:
    from benchctl.assembly.headless import Headless, Person

    tell_first(parts, teller)
    person = Person(None if args.simulated else sys.stdin, teller.say)
    if args.port is not None and not start:
        teller.say("When the board is armed: type run to start, stop to stop.")
    headless = Headless(parts, loop, parts.clock, person, start=start, scripted=args.simulated)
    loop.start()
    try:
        headless.run(teller.flush)
    finally:
        loop.stop_and_close()
        teller.flush()
        unkept = parts.close()
    if loop.crash is not None:
        raise loop.crash
    if headless.held_up:
        teller.say("This program was held up before the start; it starts nothing late. Start it again.")
    return finish(parts, teller, as_json=args.json, unkept=unkept)
