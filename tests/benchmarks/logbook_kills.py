"""Kill programs that write to a logbook. Run by hand: python -m tests.benchmarks.logbook_kills [KILLS]"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from benchctl.logbook.reader import read
from tests.logbook.test_logbook_disk import kill_writers


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as name:
        reported = kill_writers(Path(name), kills)
        book = read(Path(name))
        lost = set(reported) - {entry.id for entry in book.entries}
        print(f"{kills} kills, {len(reported)} reported kept, {len(book.entries)} found, {len(lost)} lost,")
        print(f"{len(book.damaged)} cut short, {len(book.breaks)} breaks")
        sys.exit(1 if lost or book.breaks else 0)


if __name__ == "__main__":
    main()
