"""The command line: one file a command, each imported only when it is asked for."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from benchctl.cli.ending import let_go_of_output, say_refusal, show_all_characters
from benchctl.cli.parser import Parser

COMMANDS: tuple[tuple[str, str], ...] = (
    ("run", "run one segment"),
    ("simulate", "serve a simulated bench behind a pseudo-terminal"),
    ("plan", "what a set-up will do: spin, pressure, evenness, time"),
    ("reckon", "what is left in each zone, what to change next, how far to believe it"),
    ("job", "a mirror's file: make it, show it, tell of the lap, draw marks"),
    ("contact", "solve one contact of lap and mirror"),
    ("press", "time a cold press: shift, water, end"),
    ("watch", "replay recorded traces through the lap watcher"),
    ("logbook", "list, show, export, check and report what was done"),
    ("check", "check board, sensors and stop function, line by line"),
    ("ports", "list the serial ports"),
    ("decode", "print a capture of the wire frame by frame"),
    ("board", "put the board's files on it, show or change its settings"),
)

EPILOG = """\
Without a command, the bench screen opens on the configured bench, or on a simulated one.

Exit status: 0 done, 1 a defect of benchctl, 2 refused input, 3 the segment was stopped, 4 the link failed.
STOP in this program is not an emergency stop and not a safety-rated function: the machine needs a
hard-wired emergency stop that cuts the motor's power without any software."""


class _Version(argparse.Action):
    """Says the version; what knows it takes 40 ms to import, which no other command should wait for."""

    def __call__(self, parser: argparse.ArgumentParser, *_rest: object) -> None:
        from importlib import metadata

        print(f"benchctl {metadata.version('benchctl')}")
        parser.exit()


def _preferences() -> argparse.ArgumentParser:
    """Options of every command, wherever they stand in it."""
    parser = Parser(prog="benchctl", add_help=False, allow_abbrev=False)
    parser.add_argument("--units", choices=("metric", "inch"), help="units shown; JSON and files stay in SI")
    parser.add_argument("--theme", choices=("terminal", "dark", "light"), help="ground of the bench screen")
    return parser


def _parser(asked: str | None) -> argparse.ArgumentParser:
    """The parser; only the command that is asked for is imported, the others are listed by name."""
    parser = Parser(
        prog="benchctl",
        description="The bench hand for a fixed-post mirror polishing table.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        parents=[_preferences()],
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="say the version and stop")
    parser.add_argument("--plain", action="store_true", help="lines instead of a screen")
    commands = parser.add_subparsers(title="commands", dest="command", metavar="COMMAND")
    for name, help_line in COMMANDS:
        if name == asked:
            import_module(f"benchctl.cli.{name}").add_parser(commands)
        else:
            commands.add_parser(name, help=help_line)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is the contract of the module's epilogue."""
    preferred, words = _preferences().parse_known_args(argv)
    asked = next((word for word in words if not word.startswith("-")), None)
    args = _parser(asked).parse_args(words, preferred)
    from benchctl.errors import BadInput, LinkError, LogbookError

    try:
        if args.command is None:
            from benchctl.cli.bench import open_bench

            return open_bench(args)
        return int(args.run(args))
    except LinkError as error:
        say_refusal(error)
        return 4
    except BrokenPipeError:
        return 0
    except (BadInput, LogbookError, OSError) as error:
        say_refusal(error)
        return 2
    except KeyboardInterrupt:
        return 130


def entry() -> None:
    """The console script."""
    show_all_characters()
    try:
        status = main()
    except SystemExit as ended:
        status = ended.code if isinstance(ended.code, int) else 0
    sys.exit(let_go_of_output(status))
