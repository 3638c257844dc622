"""`benchctl ports`: the serial ports, and which looks like a board."""

from __future__ import annotations

import argparse
import json
from typing import Any


def add_parser(commands: Any) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "ports",
        help="list the serial ports",
        description="Lists the serial ports with their USB ids, and says which looks like a board.",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a port")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List the ports; exit status 0 also where there are none."""
    from benchctl.link.ports import list_ports

    ports = list_ports()
    for port in ports:
        if args.json:
            print(json.dumps(port._asdict()))
        else:
            looks = "looks like a board" if port.looks_like_board else ""
            print(f"{port.path:20} {port.usb or '-':24} {looks:19} {port.words}".rstrip())
    if not ports and not args.json:
        print(
            "No serial ports. Plug the board in; on Linux the user must be in the group that owns the port."
        )
    return 0
