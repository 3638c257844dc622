"""How long a logbook of 10,000 segments takes. Run by hand: python -m tests.benchmarks.logbook_speed [COUNT]

Each command runs in its own process, start-up included; the least of three is printed.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from benchctl.clock import SystemClock
from tests.logbook.books import write_story

GOALS_S = {
    "list": 0.5,
    "list --json": 0.5,
    "export": 2.0,
    "sql": 2.0,
    "report": 3.0,
    "ask rate": 2.0,
    "verify": 2.0,
}


def least_s(command: list[str], times: int = 3) -> float:
    clock, found = SystemClock(), []
    for _ in range(times):
        start_s = clock.monotonic_s()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        found.append(clock.monotonic_s() - start_s)
    return min(found)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "book"
        write_story(folder, count, synced=False)
        size = (folder / "logbook.jsonl").stat().st_size
        print(f"{count} segments, {size / 1e6:.1f} MB")
        csv, html = Path(name) / "out.csv", Path(name) / "out.html"
        arguments = {
            "list": ["list"],
            "list --json": ["list", "--json"],
            "export": ["export", "--csv", str(csv)],
            "sql": ["sql", "select count(*), avg(spin_ratio_mean) from segments"],
            "report": ["report", "--html", str(html)],
            "ask rate": ["ask", "rate"],
            "verify": ["verify"],
        }
        for title, words in arguments.items():
            command = [sys.executable, "-m", "benchctl", "logbook", *words, "--logbook", str(folder)]
            taken = least_s(command)
            print(
                f"{title:12} {taken:6.2f} s   {taken / GOALS_S[title]:5.2f} of its goal ({GOALS_S[title]} s)"
            )
        print(f"report of {count} segments: {html.stat().st_size / 1024:.0f} KiB")


if __name__ == "__main__":
    main()
