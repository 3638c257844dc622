"""Kill, stop and hang up programs that drive a simulated bench over a port. Run by hand, takes a while:

    python -m tests.benchmarks.kills_processes [DEATHS] [AT_ONCE] [FIRST_SEED]

The processes mostly wait; about five benches a core are bearable.
"""

from __future__ import annotations

import sys
from collections import defaultdict

from tests.campaign.deaths import MARGIN_S, PERMIT_S, RAD_S, RAMP_RAD_S2, Rested, play_deaths


def main() -> None:
    """Print what was wrong, and the times to rest; exit status 1 where anything was wrong."""
    numbers = [int(word) for word in sys.argv[1:]]
    count, at_once, first_seed = [*numbers, *(200, 8, 5000)[len(numbers) :]]
    deaths, wrong = 0, 0
    by_name: dict[str, list[Rested]] = defaultdict(list)
    for told in play_deaths(count, at_once, first_seed):
        deaths += told.deaths
        wrong += len(told.wrong)
        for rested in told.rested:
            by_name[rested.death].append(rested)
        print(f"bench {told.seed}: {told.deaths} deaths", *told.wrong, sep="\n  ", flush=True)
    print(f"{deaths} deaths, {sum(map(len, by_name.values()))} while the table turned, {wrong} wrong")
    for name, rests in sorted(by_name.items()):
        worst = max(rests, key=lambda rest: rest.rest_s)
        least = min(PERMIT_S + rest.rpm * RAD_S / RAMP_RAD_S2 + MARGIN_S - rest.rest_s for rest in rests)
        print(
            f"{name}: {len(rests)}, slowest {worst.rest_s:.2f} s from {worst.rpm:.1f} rpm, "
            f"least margin to 0.6 s + w/2.0 + 0.2 s: {least:.2f} s"
        )
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
