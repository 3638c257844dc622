"""How far the planner can be believed: `python -m tests.benchmarks.workshop_proof [PART] [--kept FOLDER]`.

Parts: `ranges` (200 jobs, at a quarter, half, three quarters and 90 % of each), `wrong-post` and
`nothing-wrong` (100 jobs each, done with and without the suggestions), `all`. Seeds from 30000 on were used
for no tuning (tuning used 0 to 99; some of 1000 to 12099 and of 20000 to 22099 were looked at on the way).
Takes a quarter of an hour on one free core; prints Markdown tables.
With `--kept` each job's result stays in a folder, so that a run can be taken up again, or shared by several
processes (`--from`, `--jobs`).
"""

from __future__ import annotations

import argparse
import os
import pickle
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from tests.benchmarks.workshop_jobs import STAGES, Followed, Stage, alone, follow, stages

FIRST_SEED = {"ranges": 30000, "wrong-post": 31000, "nothing-wrong": 32000}
JOBS = {"ranges": 200, "wrong-post": 100, "nothing-wrong": 100}


Result = TypeVar("Result")


def main() -> None:
    """Run the parts asked for and print their tables."""
    parser = argparse.ArgumentParser(description="the planner against the simulated workshop")
    parser.add_argument("part", nargs="?", choices=("all", *FIRST_SEED), default="all")
    parser.add_argument("--from", dest="skip", type=int, default=0, help="leave out so many jobs")
    parser.add_argument("--jobs", type=int, help="so many jobs")
    parser.add_argument("--kept", type=Path, help="folder where results stay")
    args = parser.parse_args()
    for part in FIRST_SEED if args.part == "all" else (args.part,):
        first = FIRST_SEED[part] + args.skip
        seeds = range(first, first + (args.jobs or JOBS[part]))
        if part == "ranges":
            found = [kept(args.kept, part, seed, stages) for seed in progress(seeds)]
            say(range_table([row for rows in found for row in rows]))
        else:
            make = both_wrong if part == "wrong-post" else both_right
            say(follow_lines(part, [kept(args.kept, part, seed, make) for seed in progress(seeds)]))


def both_wrong(seed: int) -> tuple[float, Followed]:
    """A job with a wrong post: segments with nothing changed, and with the suggestions followed."""
    return alone(seed, wrong_post=True), follow(seed, wrong_post=True)


def both_right(seed: int) -> tuple[float, Followed]:
    """The same of a job with nothing wrong."""
    return alone(seed, wrong_post=False), follow(seed, wrong_post=False)


def kept(folder: Path | None, part: str, seed: int, make: Callable[[int], Result]) -> Result:
    """A job's result, from the folder where it is there already."""
    if folder is None:
        return make(seed)
    path = folder / f"{part}-{seed}.pickle"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        path.write_bytes(pickle.dumps(make(seed)))
    found: Result = pickle.loads(path.read_bytes())
    return found


def range_table(rows: list[Stage]) -> list[str]:
    """Coverage, bias and error by stage, beside the straight line."""
    lines = [
        "| work done | truth in the 80 % range | above it | below it | bias of the middle | median error, "
        "of the job | of what is left | last zone: in range | last zone: error of what is left | straight "
        "line: error of the job | of what is left |",
        "|" + "---|" * 11,
    ]
    for share in STAGES:
        lines.append(_range_line(share, [row for row in rows if row.share == share]))
    return lines


def _range_line(share: float, rows: list[Stage]) -> str:
    left = np.concatenate([row.left for row in rows])
    open_ = left > 0.0
    low, middle, high = (np.concatenate([row.reckoned[:, i] for row in rows])[open_] for i in range(3))
    base = np.concatenate([row.baseline for row in rows])[open_]
    whole = np.concatenate([np.full(len(row.left), row.whole) for row in rows])[open_]
    left = left[open_]
    lasts = np.array([row.left.max() for row in rows])
    told = np.array([row.last for row in rows])
    return (
        f"| {share:.0%} | {np.mean((low <= left) & (left <= high)):.1%} | {np.mean(left > high):.1%} "
        f"| {np.mean(left < low):.1%} | {np.mean((middle - left) / whole):+.1%} "
        f"| {np.median(abs(middle - left) / whole):.1%} | {np.median(abs(middle - left) / left):.0%} "
        f"| {np.mean((told[:, 0] <= lasts) & (lasts <= told[:, 2])):.0%} "
        f"| {np.median(abs(told[:, 1] - lasts) / lasts):.0%} "
        f"| {np.median(abs(base - left) / whole):.1%} | {np.median(abs(base - left) / left):.0%} |"
    )


def follow_lines(part: str, pairs: list[tuple[float, Followed]]) -> list[str]:
    """What following the suggestions gained or cost, and how right 'finished' was."""
    alone_, followed = np.array([one for one, _ in pairs]), np.array([two.finish for _, two in pairs])
    gain = 1 - followed / alone_
    said = sum((two.said for _, two in pairs), Counter[str]())
    told = [two.told for _, two in pairs]
    zones, early = sum(one.zones for one in told), sum(one.early for one in told)
    late = np.concatenate([one.late for one in told])
    share = early / max(zones, 1)
    return [
        f"{part}, {len(pairs)} jobs: last zone clear {gain.mean():+.1%} earlier on the mean (median "
        f"{np.median(gain):+.1%}, 10 % of the jobs under {np.percentile(gain, 10):+.1%}), "
        f"{1 - followed.sum() / alone_.sum():+.1%} of all segments; most that it cost in one job "
        f"{(followed - alone_).max():.2f} segments.",
        f"Suggestions: {', '.join(f'{act} {count}' for act, count in said.most_common())}.",
        f"Called finished: {zones} zones of {5 * len(pairs)}, {early} too early ({share:.2%}), "
        f"the worst by {max(one.worst for one in told):.1f} segments; median {np.median(late):.1f} late.",
    ]


def progress(seeds: range) -> Iterator[int]:
    """The seeds, with a dot on standard error for every tenth."""
    for seed in seeds:
        if seed % 10 == 0:
            print(".", end="", flush=True, file=sys.stderr)
        yield seed
    print(file=sys.stderr)


def say(lines: list[str]) -> None:
    """Print lines."""
    print("\n".join(lines), flush=True)


if __name__ == "__main__":
    main()
