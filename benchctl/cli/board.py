"""`benchctl board`: who the board is, its settings, its latched fault, and its files."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.assembly.visit import Visit

SETTINGS_WORDS = """\
Shows the settings stored on the board, or changes them: NAME=VALUE, the value with its unit, as in
'ceiling=40 rpm' or pedal_fitted=no. The old value is quoted to the board, which takes a change only while
disarmed and at rest, and refuses what is out of range."""
PUT_WORDS = """\
Copies the board's files by mpremote (pip install 'benchctl[board]') and restarts the board. Set the service
jumper before, so that the program on the board does not run; take it off afterwards. [pins] of bench.toml
go into the board's wiring file. The settings stored on the board stay as they are."""


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser("board", help="put the board's files on it, show or change its settings")
    acts = parser.add_subparsers(title="acts", dest="act", metavar="ACT", required=True)
    form = argparse.RawDescriptionHelpFormatter
    line = "who the board is and what it reports"
    info = acts.add_parser("info", help=line, description=f"Says {line}.")
    settings = acts.add_parser(
        "settings",
        help="show or change the stored settings",
        description=SETTINGS_WORDS,
        formatter_class=form,
    )
    settings.add_argument("changes", nargs="*", metavar="NAME=VALUE", help="change these, in this order")
    reset = acts.add_parser(
        "reset",
        help="let go of a stop for a fault, once its cause is gone",
        description="Clears the fault that the board has latched, with the table at rest and the cause gone; "
        "look at the glass and find the cause first. Nothing moves by it: arm and run come after.",
    )
    put = acts.add_parser("put", help="copy the board's files", description=PUT_WORDS, formatter_class=form)
    put.add_argument("--dry-run", action="store_true", help="only show files and command")
    for act, run in ((info, _info), (settings, _settings), (reset, _reset), (put, _put)):
        act.add_argument("--port", metavar="PORT", help="path or USB id; that of bench.toml by default")
        act.set_defaults(run=run)
    for act in (info, settings):
        act.add_argument("--json", action="store_true", help="one JSON object")


def _info(args: argparse.Namespace) -> int:
    """Print who the board is; exit status 0 also where it takes no orders from here."""
    from benchctl.assembly.visit import port_asked, visit

    with visit(port_asked(args.port)) as met:
        facts = _facts(met)
        if met.stranger:
            print(met.stranger, file=sys.stderr)
    if args.json:
        print(json.dumps(facts))
        return 0
    settings = facts.pop("settings")
    for name, value in facts.items():
        print(f"{name.replace('_', ' '):16} {'-' if value is None else value}")
    if isinstance(settings, dict):
        _print_settings(settings)
    return 0


def _facts(met: Visit) -> dict[str, object]:
    board, status = met.link.board, met.link.last_status
    assert board is not None
    return {
        "board_id": board.board_id,
        "firmware_id": board.firmware_id,
        "protocol": f"{board.protocol[0]}.{board.protocol[1]}",
        "same_messages": board.schema_matches,
        "boot_count": board.boot_count,
        "reset_cause": board.reset_cause,
        "state": None if status is None else status.board_state,
        "stop_reason": None if status is None else status.reason,
        "settings": _stored(met),
    }


def _stored(met: Visit) -> dict[str, str] | None:
    from benchctl.link.board_settings import rows

    kept = met.link.settings
    return None if kept is None else {key: words for key, words, _, _ in rows(kept)}


def _print_settings(settings: dict[str, str]) -> None:
    for key, words in settings.items():
        print(f"  {key:22} {words}")


def _settings(args: argparse.Namespace) -> int:
    """Show the settings, or change some; the first refusal ends it, with what was changed before it told."""
    from benchctl.assembly.visit import port_asked, visit
    from benchctl.errors import LinkLost
    from benchctl.link.board_settings import parse_change

    changes = [parse_change(text) for text in args.changes]
    with visit(port_asked(args.port)) as met:
        for change in changes:
            old, new = met.store(change)
            print(
                f"{change.key}: {old} -> {new}" if old != new else f"{change.key}: {old} already",
                file=sys.stderr,
            )
        stored = _stored(met)
    if stored is None:
        raise LinkLost("the board has not told its settings; try again")
    if args.json:
        print(json.dumps(stored))
    elif not changes:
        _print_settings(stored)
    return 0


def _reset(args: argparse.Namespace) -> int:
    """Clear a latched fault; exit status 0 also where there was none."""
    from benchctl.assembly.visit import port_asked, visit

    with visit(port_asked(args.port)) as met:
        fault = met.reset()
    print(
        "no fault was latched" if fault is None else f"reset: {fault}; nothing moves by it", file=sys.stderr
    )
    return 0


def _put(args: argparse.Namespace) -> int:
    """Copy the files; exit status 0."""
    from benchctl.assembly.board_files import command, gather, put, shown_command
    from benchctl.assembly.visit import port_asked
    from benchctl.link.ports import resolve
    from benchctl.models.bench_config import configured_bench

    bench = configured_bench()
    asked = port_asked(args.port)
    words = command(asked if args.dry_run else resolve(asked))
    with tempfile.TemporaryDirectory(prefix="benchctl-board-") as folder:
        names = gather(Path(folder), None if bench is None else bench.pins)
        for name in names:
            print(f"  {name}")
        print(f"in {folder}: {shown_command(words)}", flush=True)
        if not args.dry_run:
            put(words, Path(folder))
    if not args.dry_run:
        print("Copied. Take the service jumper off and plug the board in anew, then: benchctl check")
    return 0
