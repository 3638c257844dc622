"""`benchctl decode`: a capture of the wire, frame by frame, or a recorded segment run again."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchctl.link.recording import Chunk

DIFFERS = 3
"""Exit status of a replay in which this program did otherwise than the recorded one."""


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "decode",
        help="print a capture of the wire frame by frame, or run a recorded segment again",
        description="Reads a recording made with --record, hexadecimal text, or raw bytes. With --replay "
        "the segment of a recording is run again by this program on the recorded wire and acts; the exit "
        "status is 0 where it sends the board what was sent then, 3 where it does not.",
    )
    parser.add_argument("file", metavar="FILE", help="the capture; - for standard input")
    parser.add_argument("--replay", action="store_true", help="run the recorded segment again, and compare")
    parser.add_argument("--json", action="store_true", help="with --replay: events and records as JSON lines")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print one line a frame, or the events of a replay."""
    from benchctl.errors import BadInput
    from benchctl.link.listing import chunks_of, listing

    if args.json and not args.replay:
        raise BadInput("decode: --json goes with --replay; leave it out, or add --replay")
    chunks = chunks_of(_read(args.file))
    if args.replay:
        return _replay(chunks, as_json=args.json)
    for line in listing(chunks):
        print(line)
    return 0


def _read(file: str) -> bytes:
    from benchctl.errors import BadInput

    try:
        return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise BadInput(f"cannot read {file}: {reason}; check the path and the rights") from error


def _replay(chunks: list[Chunk], *, as_json: bool) -> int:
    from benchctl.assembly.replay import Replay
    from benchctl.cli.telling import Teller

    teller = Teller(as_json=as_json, to=sys.stdout)
    replay = Replay(chunks, teller.take)
    replay.run()
    teller.flush()
    if as_json:
        for record in replay.records:
            print(json.dumps(record.model_dump(mode="json"), allow_nan=False))
    print(
        f"Replayed {replay.steps} steps; {replay.written} writes to the board were as recorded. "
        + (f"Then it differs: {replay.difference}." if replay.difference else "Nothing differed."),
        file=sys.stderr,
    )
    return DIFFERS if replay.difference else 0
