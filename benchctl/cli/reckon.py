"""`benchctl reckon`: how much is left in each zone, what to change next, and how far to believe it."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.assembly.job_so_far import SoFar
    from benchctl.planner.progress import Reckoning


WIDTH = 80
"""Columns that sentences are broken at; rows of tables are narrower."""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command to the command line."""
    words = "what is left in each zone, what to change next, and how far to believe it"
    parser = subparsers.add_parser("reckon", help=words, description=words)
    parser.add_argument("job", metavar="JOB.toml", help="the job file")
    parser.add_argument("--logbook", metavar="FOLDER", help="the logbook's folder (the one the file names)")
    parser.add_argument("--rehearsal", action="store_true", help="the simulated bench's own logbook")
    parser.add_argument("--earlier", metavar="FOLDER", action="append", default=[], help="an older logbook")
    parser.add_argument("--after", type=int, metavar="N", help="as it was after so many segments")
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    what = parser.add_argument_group("what if, from the log's present state")
    what.add_argument("--post-in", metavar="LENGTH", help='the post farther in, such as "3 mm"')
    what.add_argument("--post-out", metavar="LENGTH", help="the post farther out")
    what.add_argument("--load-share", type=float, metavar="SHARE", help="the load to this share, 0.85 say")
    what.add_argument("--segments", type=int, metavar="N", help="for so many segments, then as it was")
    sitting = parser.add_argument_group("a sitting")
    sitting.add_argument("--sitting", metavar="TIME", help='what fits, such as "3 h"')
    sitting.add_argument("--seed", type=int, default=0, metavar="N", help="seed of the draw of marks")
    decide = parser.add_argument_group("a decision, kept in the logbook; nothing is ever changed by itself")
    decide.add_argument("--decide", choices=("accepted", "declined"), help="what became of the suggestion")
    decide.add_argument("--why", metavar="TEXT", default="", help="why, in your words")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Reckon and print; BadInput names what cannot be and what to do."""
    what_if = _what_if_asked(args)
    _refuse_mixed(args, what_if)
    reckoning, found = _reckoned(args)
    if args.sitting:
        return _sitting(args, reckoning, found)
    if what_if:
        return _what_if(args, reckoning)
    from benchctl.planner.reckon_text import reckoned_lines
    from benchctl.planner.reckoned import reckoned

    told = reckoned(reckoning, found.pass_ends_in)
    if args.decide:
        return _decide(args, reckoning, found, told)
    return _say(args, told, reckoned_lines(told))


def _what_if_asked(args: argparse.Namespace) -> bool:
    return bool(args.post_in or args.post_out) or args.load_share is not None or args.segments is not None


def _refuse_mixed(args: argparse.Namespace, what_if: bool) -> None:
    """One question at a time, and a decision only on what is suggested now."""
    from benchctl.errors import BadInput

    if args.sitting and what_if:
        raise BadInput("--sitting and a what-if are two questions; ask them one after the other")
    if args.decide and (args.sitting or what_if or args.after is not None):
        raise BadInput("--decide answers the suggestion as it stands now; give it without another question")
    if args.why and not args.decide:
        raise BadInput("--why says why you decided; give it with --decide accepted or --decide declined")


def _reckoned(args: argparse.Namespace) -> tuple[Reckoning, SoFar]:
    from dataclasses import replace

    from benchctl.assembly.job_so_far import reckoning_of, so_far
    from benchctl.assembly.places import logbook_folder
    from benchctl.errors import BadInput
    from benchctl.logbook.reader import FILE_NAME, read
    from benchctl.models.job import read_job

    job = read_job(Path(args.job))
    folder = logbook_folder(args.logbook, simulated=args.rehearsal, job=job)
    for one in (folder, *map(Path, args.earlier)):
        if not (one / FILE_NAME).exists():
            raise BadInput(
                f"there is no logbook in {one} yet: the first press or segment begins it; give another "
                "folder with --logbook, or --rehearsal for the simulated bench"
            )
    book = read(folder)
    found = so_far(book, job)
    if args.after is not None:
        if not 0 <= args.after <= found.history.done:
            raise BadInput(
                f"--after {args.after}: this mirror has {found.history.done} segments; give 0 to that"
            )
        found = replace(found, history=found.history.until(args.after))
    return reckoning_of(job, found, [*(read(Path(one)) for one in args.earlier), book]), found


def _say(args: argparse.Namespace, told: dict[str, Any], lines: list[str]) -> int:
    from benchctl.models.preferences import preferences
    from benchctl.units import reword

    if args.json:
        print(json.dumps(told, allow_nan=False))
    else:
        system = preferences(args.units).units
        print("\n".join(part for line in lines for part in _within(reword(line, system))))
    return 0


def _within(line: str) -> list[str]:
    """A line in parts of WIDTH columns, the later ones indented; an empty one stays."""
    import textwrap

    indent = " " * (len(line) - len(line.lstrip()) + 2)
    return textwrap.wrap(line, WIDTH, subsequent_indent=indent) or [""]


def _what_if(args: argparse.Namespace, reckoning: Reckoning) -> int:
    from benchctl.errors import BadInput
    from benchctl.planner.reckon_text import what_if_lines
    from benchctl.planner.reckoned import outcome
    from benchctl.planner.what_if import Change, what_if
    from benchctl.units import LENGTH, read

    if args.post_in and args.post_out:
        raise BadInput("--post-in and --post-out: the post goes one way; give one of them")
    out = read(args.post_out, LENGTH) if args.post_out else 0.0
    in_ = read(args.post_in, LENGTH) if args.post_in else 0.0
    share = 1.0 if args.load_share is None else args.load_share
    told = outcome(what_if(reckoning, Change(out - in_, share, args.segments)))
    return _say(args, told, what_if_lines(told))


def _sitting(args: argparse.Namespace, reckoning: Reckoning, found: SoFar) -> int:
    from dataclasses import asdict

    from benchctl.planner.reckon_text import sitting_lines
    from benchctl.planner.sitting import plan_sitting
    from benchctl.units import DURATION, read

    sitting = plan_sitting(reckoning, read(args.sitting, DURATION), found.ledger.placed, args.seed)
    return _say(args, asdict(sitting), sitting_lines(sitting))


def _decide(args: argparse.Namespace, reckoning: Reckoning, found: SoFar, told: dict[str, Any]) -> int:
    from benchctl.assembly.open_book import open_book
    from benchctl.assembly.places import logbook_folder
    from benchctl.errors import BadInput
    from benchctl.planner.reckoned import decision

    if told["suggestion"] is None:
        raise BadInput("--decide: there is no suggestion now; note what you do with `benchctl logbook note`")
    fields = decision(
        told["suggestion"],
        mirror=reckoning.job.mirror.name,
        segment=found.last_segment,
        taken=args.decide,
        why=args.why,
    )
    folder = logbook_folder(args.logbook, simulated=args.rehearsal, job=reckoning.job)
    with open_book(folder) as book:
        key = book.keep("decision", fields)
    return _say(args, fields | {"id": key}, [f"Kept as {key}: {fields['decision']}."])
