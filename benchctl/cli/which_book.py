"""Which logbook a command of `benchctl logbook` is about."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from benchctl.assembly.places import logbook_folder

if TYPE_CHECKING:
    from benchctl.models.job import Job


def which_book(args: argparse.Namespace) -> Path:
    """The folder given, or that of the mirror whose file was given; else that of the mirror which the bench
    screen opens; else the one for all.

    BadInput where a file that was given, or bench.toml's, cannot be read.
    """
    asked: str | None = args.logbook
    if asked is None:
        return logbook_folder(None, simulated=args.rehearsal, job=_opened())
    if not asked.endswith(".toml"):
        return Path(asked)
    from benchctl.models.job import read_job

    return logbook_folder(None, simulated=args.rehearsal, job=read_job(Path(asked)))


def _opened() -> Job | None:
    """The job that the bench screen opens, where bench.toml names one."""
    from benchctl.models.config_place import config_path

    if not config_path().exists():
        return None
    from benchctl.models.bench_config import configured_bench
    from benchctl.models.job import read_job

    bench = configured_bench()
    return None if bench is None or bench.job is None else read_job(Path(bench.job))
