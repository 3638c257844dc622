"""The commands that add to a logbook: a look at the glass, a note, a correction."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable

LAP_CARE = ("trimmed", "brushed", "pressed", "charged", "remade")
_LOOK = """\
WORDS, or standard input where there are none:
  grey V V V V V V    0 to 10, zones 1 to 5 from the inmost outward and the last 5 mm; - not looked at
  pits V V V V V V    pits in a field of the loupe, 12 or 12,9,14 for three fields; m too many
  laser V V V V V V   0 no spot to 3 as bright as at the back
  lamp V V V V V V    steepest angle at which the lamp's image holds, degrees
  glass T  room T  humidity H  rim H     20.5C, 48%
  blemish KIND ANGLE RADIUS [LENGTH]     sleek 130 95mm 12mm; degrees clockwise from mark 1
  note ...            the rest is a remark"""


def add_writing(add: Callable[..., argparse.ArgumentParser]) -> None:
    """Add the commands that write, by `add(name, act, help)`."""
    one = add("look", _look, "enter a look at the glass, in words or from a pipe")
    one.formatter_class = argparse.RawDescriptionHelpFormatter
    one.epilog = _LOOK
    one.add_argument("words", metavar="WORDS", nargs="*", help="such as: grey 9 8 7 7 8 9 pits m m 38 41 m m")
    one.add_argument("--segment", metavar="ID", help="the segment it followed: number or id (the last one)")
    one = add("note", _note, "add a remark")
    one.add_argument("text", metavar="TEXT", help="the remark, in quotation marks")
    one.add_argument("--segment", metavar="ID", help="the segment it belongs to: number or id")
    one.add_argument("--lap-care", choices=LAP_CARE, help="what was done to the lap")
    one = add("correct", _correct, "correct a record by adding a correction; the old one stays")
    one.add_argument("id", metavar="ID", help="a segment's number, or the id of any record")
    one.add_argument("changes", metavar="FIELD=VALUE", nargs="+", help="the field as `show --json` names it")
    one.add_argument("--why", metavar="TEXT", required=True, help="why it was wrong")


def _look(args: argparse.Namespace) -> int:
    from benchctl.logbook.additions import add_look

    words = args.words or sys.stdin.read(65536).split()
    return _added(args, lambda writer, at, mono_s: add_look(writer, words, args.segment, at, mono_s))


def _note(args: argparse.Namespace) -> int:
    from benchctl.logbook.additions import add_note

    return _added(
        args, lambda writer, at, mono_s: add_note(writer, args.text, args.segment, args.lap_care, at, mono_s)
    )


def _correct(args: argparse.Namespace) -> int:
    from benchctl.logbook.additions import add_correction

    return _added(
        args, lambda writer, at, mono_s: add_correction(writer, args.id, args.changes, args.why, at, mono_s)
    )


def _added(args: argparse.Namespace, add: Callable[..., str]) -> int:
    """Open the logbook to write, add one record, say its id."""
    from importlib.metadata import version

    from benchctl.cli.which_book import which_book
    from benchctl.clock import SystemClock
    from benchctl.logbook.reader import check_folder
    from benchctl.logbook.writer import LogbookWriter

    folder, clock = which_book(args), SystemClock()
    check_folder(folder)
    writer = LogbookWriter(folder, program=f"benchctl {version('benchctl')}")
    try:
        print(add(writer, clock.wall(), clock.monotonic_s()))
    finally:
        writer.close()
    return 0
