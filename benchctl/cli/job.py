"""`benchctl job`: a mirror's file by questions, its laps' care, its marks."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.models.job import Job

CARE = {
    "trimmed": "the channels were cut back or the edge was trimmed",
    "brushed": "the facets were brushed or meshed",
    "remade": "new pitch: the file's figures of the lap are kept with it",
}


def add_parser(commands: Any) -> None:
    """Add `job` and its own commands."""
    line = "a mirror's file: make it by questions, show it, tell of the lap, draw marks"
    parser = commands.add_parser("job", help=line, description=line)
    own = parser.add_subparsers(title="commands", dest="job_command", metavar="COMMAND", required=True)
    one = own.add_parser(
        "new",
        help="make a mirror's file by questions",
        description="Asks for mirror, laps, weights, marks, and writes the mirror's file. Enter takes what "
        "is in brackets; answers carry their unit, such as 460 mm or 18 in. What was broken off goes on the "
        "next time.",
    )
    one.add_argument("file", nargs="?", metavar="FILE", help="where to (named after the mirror)")
    one.set_defaults(run=_new)
    one = _named(own, "show", "the mirror, its laps with their care, weights, marks, the last press")
    one.add_argument("--json", action="store_true", help="one JSON object, in SI")
    one.set_defaults(run=_show)
    for name, meaning in CARE.items():
        one = _named(own, name, f"tell the logbook that a lap was {name}: {meaning}")
        one.add_argument("--lap", metavar="NAME", help="which lap (the one in use)")
        one.add_argument("--note", metavar="TEXT", default="", help="what was done")
        one.set_defaults(run=_care, care=name)
    one = _named(own, "mark", "the mark of the next segment: draw it, or choose another and say why")
    one.add_argument("--take", type=int, metavar="N", help="take this mark instead of the one drawn")
    one.add_argument("--why", metavar="TEXT", default="", help="why another mark is taken")
    last = one.add_mutually_exclusive_group()
    last.add_argument("--used", action="store_true", help="the last segment has used up its mark")
    last.add_argument("--again", action="store_true", help="the last segment gives its mark back")
    one.add_argument("--json", action="store_true", help="one JSON object")
    one.set_defaults(run=_mark)


def _named(own: Any, name: str, line: str) -> argparse.ArgumentParser:
    one: argparse.ArgumentParser = own.add_parser(name, help=line, description=line)
    one.add_argument("job", metavar="JOB.toml", help="the mirror's file; 'demo' for the one shipped")
    one.add_argument("--logbook", metavar="FOLDER", help="the logbook's folder (the one the file names)")
    one.add_argument("--rehearsal", action="store_true", help="the simulated bench's own logbook")
    return one


def _job(args: argparse.Namespace) -> Job:
    from benchctl.models.job import read_job

    return read_job(Path(args.job))


def _folder(args: argparse.Namespace, job: Job) -> Path:
    from benchctl.assembly.places import logbook_folder

    return logbook_folder(args.logbook, simulated=args.rehearsal, job=job)


def _new(args: argparse.Namespace) -> int:
    from benchctl.cli.job_new import new_job

    return new_job(args.file, args.units)


def _show(args: argparse.Namespace) -> int:
    from benchctl.cli.job_text import job_facts, job_lines
    from benchctl.logbook.reader import read
    from benchctl.models.preferences import preferences

    job = _job(args)
    folder = _folder(args, job)
    book = read(folder)
    if args.json:
        print(json.dumps(job_facts(job, book, folder), allow_nan=False))
        return 0
    for line in job_lines(job, book, folder, preferences(args.units).units):
        print(line)
    return 0


def _care(args: argparse.Namespace) -> int:
    from benchctl.assembly.open_book import open_book
    from benchctl.errors import BadInput
    from benchctl.units import printable

    job = _job(args)
    laps = {one.name: one for one in job.laps or (job.lap,)}
    lap = laps.get(args.lap or job.lap.name)
    if lap is None:
        known = ", ".join(printable(name) for name in laps)
        raise BadInput(f"--lap: there is no lap '{printable(args.lap)}' in {args.job}; there are {known}")
    if len(args.note) > 2000:
        raise BadInput(f"--note: {len(args.note)} characters are too long; the limit is 2000")
    fields = {
        "text": args.note.strip() or f"{lap.name} {args.care}",
        "lap_care": args.care,
        "lap": lap.name,
        "mirror": job.mirror.name,
    }
    if args.care == "remade":
        fields["lap_facts"] = lap.model_dump(exclude={"name"})
    with open_book(_folder(args, job)) as book:
        record_id = book.keep("note", fields)
    print(f"{record_id}  {printable(job.mirror.name)}: {printable(lap.name)} {args.care}")
    return 0


def _mark(args: argparse.Namespace) -> int:
    from benchctl.cli.job_mark import tell_mark

    job = _job(args)
    return tell_mark(args, job, _folder(args, job))
