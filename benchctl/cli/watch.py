"""`benchctl watch`: recorded sensor traces through the lap watcher."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

NEVER_SEEN = "the lap was never seen to turn: it takes targets passing and reports of a table that turns"


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "watch",
        help="replay recorded traces through the lap watcher",
        description="Plays each trace through the lap watcher and tells every change of the lap's state.",
    )
    parser.add_argument(
        "traces", nargs="+", metavar="TRACE.jsonl", help="such as those in a logbook's traces folder"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a change of state")
    parser.add_argument("--states-only", action="store_true", help="only trace, time and state")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Play the traces in their order."""
    from benchctl.errors import BadInput
    from benchctl.lapwatch.replay import replay
    from benchctl.units import printable

    for path in map(Path, args.traces):
        try:
            with path.open(encoding="utf-8-sig", errors="strict") as lines:
                seen: list[str] = []
                for change in replay(lines, printable(str(path))):
                    if not seen and not args.json:
                        _tell_blind_spot(path, change.targets)
                    _tell(path, change.at_s, change.verdict, args)
                    seen.append(change.verdict.state)
                if seen in ([], ["waiting"]) and not args.json:
                    print(f"{path.name}  {NEVER_SEEN}")
        except (OSError, UnicodeDecodeError) as error:
            reason = (getattr(error, "strerror", None) or "").lower() or "not a text file in UTF-8"
            raise BadInput(f"cannot read trace {printable(str(path))}: {reason}") from error
    return 0


def _tell_blind_spot(path: Path, targets: int) -> None:
    """Say once a trace what so few targets cannot show."""
    from benchctl.lapwatch.words import blind_spot

    if text := blind_spot(targets):
        print(f"{path.name}  {text}")


def _tell(path: Path, at_s: float, verdict: Any, args: argparse.Namespace) -> None:
    if not args.json:
        tail = "" if args.states_only else f"  {verdict.words}  {verdict.reason}"
        print(f"{path.name}  {at_s:9.2f} s  {verdict.state:12}{tail}".rstrip())
        return
    line: dict[str, Any] = {"trace": path.name, "at_s": round(at_s, 3), "state": verdict.state}
    if not args.states_only:
        line |= {
            "words": verdict.words,
            "reason": verdict.reason,
            "spin_ratio": verdict.spin_ratio,
            "severity": verdict.severity,
        }
    print(json.dumps(line, allow_nan=False))
