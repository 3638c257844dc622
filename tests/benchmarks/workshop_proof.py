"""How far the planner can be believed: `python -m tests.benchmarks.workshop_proof [PART] [JOBS]`.

Parts: `ranges` (200 jobs, at a quarter, half, three quarters and 90 % of each), `wrong-post` and
`nothing-wrong` (100 jobs each, done with and without the suggestions), `all`. Seeds from 1000 on were used
for no tuning (tuning used 0 to 99). Takes about a quarter of an hour on one free core; prints Markdown tables.
"""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterator

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from tests.benchmarks.workshop_jobs import STAGES, Followed, Stage, alone, follow, stages

FIRST_SEED = {"ranges": 1000, "wrong-post": 2000, "nothing-wrong": 3000}
JOBS = {"ranges": 200, "wrong-post": 100, "nothing-wrong": 100}


def main(words: list[str]) -> None:
    """Run the parts asked for and print their tables."""
    asked = words[0] if words else "all"
    for part in FIRST_SEED if asked == "all" else (asked,):
        jobs = int(words[1]) if len(words) > 1 else JOBS[part]
        first = FIRST_SEED[part]
        seeds = range(first, first + jobs)
        if part == "ranges":
            say(range_table([row for seed in progress(seeds) for row in stages(seed)]))
        else:
            wrong = part == "wrong-post"
            pairs = [
                (alone(seed, wrong_post=wrong), follow(seed, wrong_post=wrong)) for seed in progress(seeds)
            ]
            say(follow_lines(part, pairs))


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
    return [
        f"{part}, {len(pairs)} jobs: last zone clear {gain.mean():+.1%} earlier on the mean (median "
        f"{np.median(gain):+.1%}, 10 % of the jobs under {np.percentile(gain, 10):+.1%}), "
        f"{1 - followed.sum() / alone_.sum():+.1%} of all segments; most that it cost in one job "
        f"{(followed - alone_).max():.2f} segments.",
        f"Suggestions: {', '.join(f'{act} {count}' for act, count in said.most_common())}.",
        f"Called finished: {zones} zones of {5 * len(pairs)}, {early} too early ({early / zones:.2%}), the worst "
        f"by {max(one.worst for one in told):.1f} segments; {np.median(late):.1f} segments late (median).",
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
    main(sys.argv[1:])
