"""`benchctl plan`: what a set-up will do to the glass, and where to set the post."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command to the command line."""
    words = "what a set-up will do: spin, pressure, evenness, time"
    parser = subparsers.add_parser("plan", help=words, description=words)
    parser.add_argument("job", metavar="JOB.toml", help="the job file")
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.add_argument("--svg", metavar="FILE", help="write removal over radius as a picture")
    parser.add_argument("--compare", metavar="OTHER.toml", help="put a second set-up beside it")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Plan and print; BadInput names file, field, value, limit and what to do."""
    from benchctl.models.preferences import preferences
    from benchctl.planner.plan_text import plan_lines, plan_svg

    plan = _planned(args.job)
    other = _planned(args.compare) if args.compare else None
    if args.svg:
        _write(args.svg, plan_svg(plan, other))
    if args.json:
        print(json.dumps(plan | {"compared_with": other} if other else plan, allow_nan=False))
    else:
        print("\n".join(plan_lines(plan, other, preferences(args.units).units)))
    return 0


def _planned(name: str) -> dict[str, object]:
    from benchctl.errors import BadInput
    from benchctl.models.job import read_job
    from benchctl.planner.plan import make_plan

    job = read_job(Path(name))
    try:
        return make_plan(job)
    except BadInput as error:
        raise BadInput(f"{name}: {error}") from error


def _write(name: str, text: str) -> None:
    from benchctl.errors import BadInput
    from benchctl.units import printable

    try:
        Path(name).write_text(text, encoding="utf-8")
    except OSError as error:
        reason = (error.strerror or "failed").lower()
        raise BadInput(f"--svg: cannot write {name}: {reason}; choose another place") from error
    print(f"wrote {printable(name, 1000)}", file=sys.stderr)
