"""`benchctl job mark`: the mark of the next segment, drawn, chosen, given back or used up."""

from __future__ import annotations

import json
import secrets
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from benchctl.assembly.open_book import open_book
from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.session.preparation import Preparation

if TYPE_CHECKING:
    import argparse

MOST_SEED = 0x7FFFFFFF


def tell_mark(args: argparse.Namespace, job: Job, folder: Path) -> int:
    """Do what was asked of the mark, keep it in the logbook, and say where the marks stand."""
    if args.why and args.take is None:
        raise BadInput("--why goes with --take N; say which mark is taken")
    with open_book(folder) as book:
        marks = Preparation(book.history, job, lambda: secrets.randbelow(MOST_SEED))
        if args.used or args.again:
            book.keep("correction", marks.settle(args.used))
        if args.take is None:
            _, drawn = marks.next_mark()
        else:
            drawn = marks.choose(args.take, args.why)
        if drawn is not None:
            book.keep("mark_draw", drawn)
    view = marks.view()
    if args.json:
        print(json.dumps(asdict(view) | {"ends_in": view.ends_in}, allow_nan=False))
        return 0
    if view.mark is None:
        print(f"Mark {job.marks.start}: the one to begin with, as the file says.")
    print("\n".join(part for part in (view.choice, view.left, view.ahead) if part))
    return 0
