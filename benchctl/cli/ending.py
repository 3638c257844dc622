"""How a command ends that was refused, and one whose output could not be written."""

from __future__ import annotations

import errno
import os
import sys
from typing import TextIO

LONGEST = 1000
"""Characters of a refusal's line; a path is repeated in it as it was typed."""


def say_refusal(error: Exception) -> None:
    """The sentence of a refusal on standard error, safe to show whatever was typed."""
    from benchctl.units import printable

    for line in (words_of(error) if isinstance(error, OSError) else str(error)).splitlines():
        print(f"benchctl: {printable(line, LONGEST)}", file=sys.stderr)


def words_of(error: OSError) -> str:
    """What the system refused: the file, where one is named, and the reason."""
    reason = (error.strerror or str(error) or "not possible").lower()
    if error.filename is not None:
        return f"{error.filename}: {reason}; check the path and the rights"
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"cannot write the output: {reason}; make room or write it elsewhere"
    return f"the system refused: {reason}"


def show_all_characters() -> None:
    """Let what the terminal's encoding does not have be shown as '?', instead of ending the command."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def let_go_of_output(status: int) -> int:
    """Write what is still held; the exit status, 2 where the disk does not take it.

    A reader that has closed its pipe has seen what it wanted: that is no fault.
    """
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except BrokenPipeError:
            _discard(stream)
        except OSError as error:
            _discard(stream)
            if stream is sys.stdout and status == 0:
                say_refusal(error)
                status = 2
    return status


def _discard(stream: TextIO) -> None:
    """What comes after goes nowhere, so that the interpreter's own end does not stumble over it."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
