"""Play many seeds of the campaign of faults. Run by hand, takes hours for ten thousand:

    python -m tests.benchmarks.campaign_seeds [FIRST] [COUNT] [PROCESSES]

Prints each broken rule with the command that plays its seed again, and the figures at the end (and every
thousand seeds). Exit status 1 where a rule was broken.
"""

from __future__ import annotations

import sys

from tests.campaign.many import Told, play_seeds, summary

EVERY = 500


def main() -> None:
    """Play them."""
    numbers = [int(word) for word in sys.argv[1:]]
    first, count, processes = [*numbers, *(100_000, 10_000, 1)[len(numbers) :]]
    told: list[Told] = []
    for one in play_seeds(range(first, first + count), processes):
        told.append(one)
        for breach in one.breaches:
            print(f"python -m tests.campaign.replay {one.seed}   # {breach}", flush=True)
        if len(told) % EVERY == 0:
            print(summary(told), flush=True)
    print(summary(told))
    sys.exit(1 if any(one.breaches for one in told) else 0)


if __name__ == "__main__":
    main()
