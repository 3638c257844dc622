"""`benchctl decode`: a capture of the wire, frame by frame."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "decode",
        help="print a capture of the wire frame by frame",
        description="Reads a recording made with --record, hexadecimal text, or raw bytes.",
    )
    parser.add_argument("file", metavar="FILE", help="the capture; - for standard input")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print one line a frame."""
    from benchctl.errors import BadInput
    from benchctl.link.listing import chunks_of, listing

    try:
        raw = sys.stdin.buffer.read() if args.file == "-" else Path(args.file).read_bytes()
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        raise BadInput(f"cannot read {args.file}: {reason}; check the path and the rights") from error
    for line in listing(chunks_of(raw)):
        print(line)
    return 0
