"""`benchctl job new`: the questions, on a terminal or from a pipe, and the file written once."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from benchctl.assembly.places import state_folder
from benchctl.cli.job_draft import Draft
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
    print(f"written: {printable(str(path), 1000)}")
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
    draft = Draft(state_folder() / "job-new.json" if typed else None)
    try:
        if draft.earlier and not _go_on(draft):
            draft.drop()
        sheet = _whole(system, draft, typed=typed, named=named)
    except KeyboardInterrupt:
        print(file=sys.stderr)
        raise BadInput(f"broken off; {_left(draft)}") from None
    draft.drop()
    return sheet


def _whole(system: str, draft: Draft, *, typed: bool, named: bool) -> JobSheet:
    while True:
        sheet = JobSheet(system)
        for question in questions(sheet):
            _ask(sheet, question, draft, typed=typed, named=named)
        try:
            sheet.job()
        except BadInput as refusal:
            if not typed:
                raise
            print(f"{refusal}\nOnce more; Enter keeps what you answered.", file=sys.stderr)
            draft.again()
        else:
            return sheet


def _go_on(draft: Draft) -> bool:
    """Whether the answers that were given before are to be offered again."""
    named = next((printable(text) for name, text in draft.earlier if name == "mirror.name"), "a mirror")
    print(f"{len(draft.earlier)} answers on {named} are kept from before. Enter keeps each.", file=sys.stderr)
    print("Go on with them (yes, no) [yes]: ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() not in ("n", "no")


def _left(draft: Draft) -> str:
    """What became of the answers."""
    if not draft.answers and not draft.earlier:
        return "no file was written"
    if draft.trouble:
        given = "; ".join(f"{name} = {printable(text)}" for name, text in draft.answers)
        return f"no file was written, and the answers cannot be kept ({draft.trouble}): {given}"
    return "no file was written yet; your answers are kept, `benchctl job new` goes on with them"


def _ask(sheet: JobSheet, question: Question, draft: Draft, *, typed: bool, named: bool) -> None:
    offered = draft.offered(question.name) or question.offered(sheet)
    choices = f" ({', '.join(question.choices)})" if question.choices else ""
    prompt = f"{question.asks}{choices}{f' [{offered}]' if offered else ''}: "
    while True:
        print(prompt, end="" if typed else "\n", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if typed and not line:
            print(file=sys.stderr)
            raise BadInput(f"{question.asks.lower()}: no answer came; {_left(draft)}")
        text = _meant(question, printable(line.strip(), 1000)) or offered
        try:
            if text is None:
                raise BadInput(
                    f"{question.asks.lower()}: {'it needs an answer' if line else 'no answer came'}"
                )
            if question.name == "mirror.name" and not named:
                _free(_named(text))
            sheet.take(question, text)
        except BadInput as refusal:
            if typed:
                print(f"  {refusal}", file=sys.stderr)
                continue
            raise BadInput(f"{refusal}; no file was written, correct it and answer again") from refusal
        draft.take(question.name, text)
        return


def _meant(question: Question, text: str) -> str:
    """A choice may be answered by its beginning, where only one begins so."""
    begun = [one for one in question.choices if text and one.startswith(text.lower())]
    return begun[0] if len(begun) == 1 else text


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
