"""`benchctl simulate`: a simulated bench in a process of its own, behind a pseudo-terminal."""

from __future__ import annotations

import argparse
import contextlib
import math
import signal
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

if TYPE_CHECKING:
    from benchctl.simulator.simulated import SimulatedBench

DESCRIPTION = """\
Serve a simulated bench with the real board controller behind a pseudo-terminal whose name is linked at
PATH, until Ctrl-C or SIGTERM. Open PATH as the port of any other command. Times of mishaps are seconds
since the start. Not on Windows, which has no pseudo-terminals."""


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "simulate",
        help="serve a simulated bench behind a pseudo-terminal",
        description=DESCRIPTION,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--link", required=True, metavar="PATH", help="where the port's name is linked")
    parser.add_argument("--truth", metavar="FILE", help="write the plant's own values here, one JSON a line")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same bench (default 1)")
    parser.add_argument("--mishap", action="append", default=[], metavar="NAME@SECONDS", help="repeatable")
    parser.add_argument("--job", metavar="JOB.toml", help="mirror, lap and set-up; the demo job by default")
    parser.add_argument(
        "--operator",
        default="attentive",
        metavar="WHO",
        help="who answers calls by the pedal: attentive (default), slow or absent",
    )
    parser.add_argument("--seconds", type=float, metavar="S", help="end after this long")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until told to end; exit status 0."""
    from benchctl.errors import BadInput
    from benchctl.simulator.pseudo_port import PseudoPort

    if args.seconds is not None and not (math.isfinite(args.seconds) and args.seconds > 0.0):
        raise BadInput(f"simulate: --seconds {args.seconds:g} is not a time; give seconds above 0")
    ended = _end_on_signals()
    with contextlib.ExitStack() as kept:
        port = kept.enter_context(PseudoPort(Path(args.link)))
        truth = None if args.truth is None else kept.enter_context(_truth_file(args.truth))
        bench = _bench(args)
        from benchctl.clock import SystemClock
        from benchctl.simulator.serve import Server

        print(f"simulated bench at {args.link}; end with Ctrl-C", file=sys.stderr, flush=True)
        Server(bench, port, SystemClock(), ended, truth).run(args.seconds)
    return 0


def _bench(args: argparse.Namespace) -> SimulatedBench:
    from benchctl.errors import BadInput
    from benchctl.models.job import demo_job, read_job
    from benchctl.simulator.mishaps import parse_mishap
    from benchctl.simulator.operator import Operator
    from benchctl.simulator.simulated import SimulatedBench

    mishaps = [parse_mishap(text) for text in args.mishap]
    for planned in mishaps:
        if planned.mishap.where == "host":
            raise BadInput(
                f"--mishap: '{planned.mishap.name}' befalls the computer, not the bench; "
                "use it with 'benchctl run --simulated'"
            )
    operator = Operator(args.operator, args.seed)
    job = demo_job() if args.job is None else read_job(Path(args.job))
    return SimulatedBench(job, seed=args.seed, mishaps=mishaps, pedal_operator=operator, board_id="bench")


def _truth_file(name: str) -> TextIO:
    """The truth file, made anew."""
    from benchctl.errors import BadInput

    try:
        return Path(name).open("w", encoding="utf-8")
    except OSError as error:
        reason = (error.strerror or "not possible").lower()
        raise BadInput(
            f"simulate: cannot write --truth {name}: {reason}; name a file you may write"
        ) from error


def _end_on_signals() -> threading.Event:
    """Ctrl-C, SIGTERM and a closed terminal end the serving in good order: the link is removed."""
    ended = threading.Event()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), lambda number, frame: ended.set())
    return ended
