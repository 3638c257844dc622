"""`benchctl job new`: the questions, on a terminal or from a pipe, and the file written once."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from benchctl.errors import BadInput
from benchctl.models.preferences import preferences
from benchctl.planner.new_job import JobSheet, Question, file_name, job_text, questions
from benchctl.units import printable


def new_job(file: str | None, system: str | None) -> int:
    """Ask, write the file, say what comes next; exit status. No file that is there already is touched."""
    if file is not None:
        _free(Path(file))
    sheet = _asked(preferences(system).units, named=file is not None)
    path = Path(file) if file is not None else _named(sheet.answers["mirror.name"])
    _write(path, job_text(sheet))
    print(f"written: {path}")
    print(
        f"Next: benchctl plan {path}    what this set-up will do\n"
        f"      benchctl press {path}   cold press with the timer\n"
        f"      benchctl run {path} --simulated   rehearse on the simulated bench",
        file=sys.stderr,
    )
    return 0


def _named(mirror: str) -> Path:
    return Path(f"{file_name(mirror)}.toml")


def _asked(system: str, *, named: bool) -> JobSheet:
    """A whole sheet. On a terminal a refused answer is asked again; in a pipe it is BadInput."""
    typed = sys.stdin.isatty()
    kept: dict[str, str] = {}
    while True:
        sheet = JobSheet(system)
        for question in questions(sheet):
            _ask(sheet, question, kept.get(question.name), typed=typed, named=named)
        try:
            sheet.job()
        except BadInput as refusal:
            if not typed:
                raise
            print(f"{refusal}\nOnce more; Enter keeps what you answered.", file=sys.stderr)
            kept = dict(sheet.answers)
        else:
            return sheet


def _ask(sheet: JobSheet, question: Question, kept: str | None, *, typed: bool, named: bool) -> None:
    offered = kept or question.offered(sheet)
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    prompt = f"{question.asks}{choices}{f' [{offered}]' if offered else ''}: "
    while True:
        print(prompt, end="" if typed else "\n", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        text = printable(line.strip(), 1000) or offered
        try:
            if text is None or (typed and not line):
                raise BadInput(
                    f"{question.asks.lower()}: {'it needs an answer' if line else 'no answer came'}"
                )
            if question.name == "mirror.name" and not named:
                _free(_named(text))
            sheet.take(question, text)
        except BadInput as refusal:
            if typed and line:
                print(f"  {refusal}", file=sys.stderr)
                continue
            raise BadInput(f"{refusal}; no file was written, correct it and answer again") from refusal
        return


def _free(path: Path) -> None:
    if path.exists():
        raise BadInput(
            f"{path} is there already and is not overwritten; give another name, or FILE after `job new`"
        )
    if not os.access(path.absolute().parent, os.W_OK):
        raise BadInput(f"no file can be written in {path.absolute().parent}; check the folder and its rights")


def _write(path: Path, text: str) -> None:
    """Write a file that was not there. Where that fails after all, the text is printed: nothing is lost."""
    try:
        with path.open("x", encoding="utf-8") as target:
            target.write(text)
    except OSError as error:
        print(text)
        reason = (error.strerror or "not possible").lower()
        raise BadInput(f"cannot write {path}: {reason}; what you answered is printed above") from error
