"""The program with its renewals of the run permit timed: FILE, then the program's own arguments.

Writes the longest and the mean time between two renewals, in seconds, to FILE when the program ends.
"""

from __future__ import annotations

import atexit
import json
import sys
import time
from pathlib import Path
from typing import Any

from benchctl.cli import main
from benchctl.link.board import BoardLink

gaps: list[float] = []
last: list[float] = []


def timed(real: Any) -> Any:
    """`real`, with the time since the call before written down; a pause of over 5 s is not a gap."""

    def renew(self: BoardLink, now_s: float) -> Any:
        at_s = time.monotonic()
        if last and at_s - last[0] < 5.0:
            gaps.append(at_s - last[0])
        last[:] = [at_s]
        return real(self, now_s)

    return renew


def keep(path: Path) -> None:
    """Write down what was measured."""
    mean = sum(gaps) / len(gaps) if gaps else None
    path.write_text(json.dumps({"count": len(gaps), "longest_s": max(gaps, default=None), "mean_s": mean}))


if __name__ == "__main__":
    BoardLink.renew = timed(BoardLink.renew)  # type: ignore[method-assign]
    atexit.register(keep, Path(sys.argv[1]))
    sys.exit(main(sys.argv[2:]))
