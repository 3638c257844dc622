"""`benchctl logbook`: list, show, export, verify, report, ask, and add notes and corrections."""

from __future__ import annotations

import argparse
import gc
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchctl.cli.logbook_adding import add_writing

if TYPE_CHECKING:
    from benchctl.logbook.questions import Answer
    from benchctl.logbook.reader import Logbook

QUESTIONS: dict[str, str] = {
    "work": "useful hours and turns, and how many since pits were last counted",
    "lagging": "which zone lags, since when, and after which change",
    "rate": "depth a segment gives, by the mechanics and by the glass, and whether it fell",
    "marks": "marks unused in this pass, print-through left, draws overridden",
    "lap": "when the lap was trimmed, brushed or remade, and spin and load around it",
    "stops": "segments that stopped early, why, and what was found on the glass",
    "post": "moves of the post: what was predicted, what was seen, whether they agree",
    "water": "wet-downs missed and laps left standing, and what followed",
    "room": "whether spin or progress follows room temperature or humidity",
    "mirrors": "how long each mirror took, here and in others (--other); ahead or behind",
}
"""The ten questions, by word; 1 to 10 will do as well."""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `logbook` and its own commands."""
    parser = subparsers.add_parser("logbook", help="list, show, export, check and report what was done")
    _where(parser, None, False)
    asked = argparse.ArgumentParser(add_help=False)
    _where(asked, argparse.SUPPRESS, argparse.SUPPRESS)
    commands = parser.add_subparsers(
        title="commands", dest="logbook_command", metavar="COMMAND", required=True
    )

    def add(name: str, act: Callable[..., int], help_line: str) -> argparse.ArgumentParser:
        one = commands.add_parser(name, help=help_line, description=help_line, parents=[asked])
        one.set_defaults(run=run, act=act)
        return one

    _add_reading(add)
    add_writing(add)
    parser.set_defaults(run=run)


def _where(parser: argparse.ArgumentParser, folder: str | None, rehearsal: bool | str) -> None:
    parser.add_argument(
        "--logbook",
        metavar="WHERE",
        default=folder,
        help="the logbook's folder, or the mirror's file (the mirror that the bench screen opens)",
    )
    parser.add_argument(
        "--rehearsal", action="store_true", default=rehearsal, help="the simulated bench's own logbook"
    )


def _add_reading(add: Callable[..., argparse.ArgumentParser]) -> None:
    _json(add("list", _list, "a segment a line, oldest first"))
    one = add("show", _show, "one segment or record, with its notes and corrections")
    one.add_argument("id", metavar="ID", help="a segment's number, or the id of any record")
    _json(one)
    one = add("export", _export, "write the records for other programs ('-' is standard output)")
    to = one.add_mutually_exclusive_group(required=True)
    to.add_argument("--csv", metavar="FILE", help="comma-separated values")
    to.add_argument("--json", metavar="FILE", help="a JSON list, one row a line")
    what = ("segments", "zones", "blemishes", "records")
    one.add_argument("--what", choices=what, default="segments", help="what a row is (segments)")
    _json(add("verify", _verify, "check every line; changes nothing; exit 3 where something is damaged"))
    one = add("report", _report, "one HTML file: work, progress, marks, segments; prints well")
    one.add_argument("--html", metavar="FILE", required=True, help="the file to write")
    one.add_argument("--mirror", metavar="NAME", help="the mirror (the one of the last segment)")
    one.add_argument(
        "--marks", type=int, metavar="N", help="marks on the rim, where the logbook does not say"
    )
    one = add("sql", _sql, "one SELECT over the tables segments, zones, blemishes, records")
    one.add_argument(
        "statement",
        metavar="STATEMENT",
        help='such as "select mark, sum(useful_turns) from segments group by mark"',
    )
    _json(one)
    words = "\n".join(f"  {i:2} {name:8} {text}" for i, (name, text) in enumerate(QUESTIONS.items(), start=1))
    one = add("ask", _ask, "one of ten questions, by number or word")
    one.formatter_class = argparse.RawDescriptionHelpFormatter
    one.epilog = f"questions:\n{words}"
    one.add_argument("question", metavar="QUESTION", help="one of those below")
    one.add_argument(
        "--other", metavar="FOLDER", action="append", default=[], help="another logbook to compare"
    )
    one.add_argument(
        "--marks", type=int, metavar="N", help="marks on the rim, where the logbook does not say"
    )
    _json(one)


def _json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="one JSON value a line")


def run(args: argparse.Namespace) -> int:
    """Run one of the logbook's commands."""
    gc.disable()  # records hold no circles, and a long logbook is read a tenth faster
    try:
        return int(args.act(args))
    finally:
        gc.enable()


def _folder(args: argparse.Namespace) -> Path:
    from benchctl.cli.which_book import which_book

    return which_book(args)


def _open(args: argparse.Namespace) -> Logbook:
    """The logbook asked for; what is wrong with it is said on standard error, and reading goes on."""
    folder = _folder(args)
    book = _read(folder)
    if not book.sound:
        damage = len(book.damaged) + len(book.breaks)
        words = (
            book.read_only_reason or f"{damage} damaged places were set aside; see `benchctl logbook verify`"
        )
        print(f"benchctl: {words}", file=sys.stderr)
    return book


def _read(folder: Path, *, quick: bool = True) -> Logbook:
    from benchctl.logbook.reader import check_folder, read

    check_folder(folder)
    return read(folder, quick=quick)


def _say(lines: Sequence[str]) -> int:
    if lines:
        sys.stdout.write("\n".join(lines) + "\n")
    return 0


def _say_json(rows: Sequence[Mapping[str, Any]]) -> int:
    return _say([json.dumps(row, allow_nan=False) for row in rows])


def _list(args: argparse.Namespace) -> int:
    from benchctl.logbook.segments import segments
    from benchctl.logbook.text import segment_list

    found = segments(_open(args))
    return _say_json([one.flat() for one in found]) if args.json else _say(segment_list(found))


def _show(args: argparse.Namespace) -> int:
    from benchctl.logbook.export import whole_record
    from benchctl.logbook.text import details
    from benchctl.models.preferences import preferences

    record = whole_record(_open(args), args.id)
    if args.json:
        return _say_json([record])
    return _say(details(record, system=preferences(args.units).units))


def _export(args: argparse.Namespace) -> int:
    from benchctl.logbook.export import rows, to_csv, to_json, write_whole
    from benchctl.units import printable

    table = rows(_open(args), args.what)
    text, target = (to_csv(table), args.csv) if args.csv is not None else (to_json(table), args.json)
    if target == "-":
        sys.stdout.write(text)
    else:
        write_whole(Path(target), text)
        print(f"{len(table)} {args.what} written to {printable(target, 1000)}", file=sys.stderr)
    return 0


def _verify(args: argparse.Namespace) -> int:
    from benchctl.logbook.interrupted import open_segments
    from benchctl.logbook.text import health, health_facts

    folder = _folder(args)
    book = _read(folder, quick=False)
    running = open_segments(folder, book)
    if args.json:
        _say_json([health_facts(book, running)])
    else:
        _say(health(book, running))
    return 0 if book.sound else 3


def _sql(args: argparse.Namespace) -> int:
    from benchctl.logbook.query import ask
    from benchctl.logbook.text import columns

    found = ask(_open(args), args.statement)
    if args.json or not found:
        return _say_json(found)
    return _say(
        columns(list(found[0]), [["" if v is None else str(v) for v in row.values()] for row in found])
    )


def _ask(args: argparse.Namespace) -> int:
    from benchctl import units
    from benchctl.models.preferences import preferences

    names = list(QUESTIONS)
    name = args.question
    if name.isdecimal() and 1 <= int(name[:4]) <= len(names):
        name = names[int(name) - 1]
    if name not in QUESTIONS:
        from benchctl.errors import BadInput

        raise BadInput(
            f"'{units.printable(name)}' is not a question; ask one of {', '.join(names)}, or 1 to 10"
        )
    answer = _answer(name, args, units.METRIC if args.json else preferences(args.units).units)
    if args.json:
        return _say_json([{"question": name, "answer": answer.sentences, "rows": answer.rows}])
    return _say([units.printable(sentence, 2000) for sentence in answer.sentences])


def _answer(name: str, args: argparse.Namespace, system: str) -> Answer:
    from benchctl.logbook import compared, post_moves, questions, rates, room, trends

    book = _open(args)
    if name == "marks":
        from benchctl.cli.logbook_marks import marks_answer

        return marks_answer(book, args.marks)
    if name == "mirrors":
        return compared.mirrors_compared([book, *(_read(Path(folder)) for folder in args.other)], system)
    plain: dict[str, Callable[[Logbook], Answer]] = {
        "work": questions.work_done,
        "lap": questions.lap_care,
        "stops": questions.stops,
        "water": questions.water,
        "room": room.room,
    }
    with_quantities: dict[str, Callable[[Logbook, str], Answer]] = {
        "lagging": trends.lagging,
        "rate": rates.rate,
        "post": post_moves.post_moves,
    }
    return plain[name](book) if name in plain else with_quantities[name](book, system)


def _report(args: argparse.Namespace) -> int:
    from benchctl.cli.logbook_marks import marks_picture
    from benchctl.logbook.export import write_whole
    from benchctl.logbook.report import report_html
    from benchctl.models.preferences import preferences
    from benchctl.units import printable

    book = _open(args)
    marks = marks_picture(book, args.mirror, args.marks)
    text = report_html(book, mirror=args.mirror, marks=marks, system=preferences(args.units).units)
    write_whole(Path(args.html), text)
    print(f"report written to {printable(args.html, 1000)}", file=sys.stderr)
    return 0
