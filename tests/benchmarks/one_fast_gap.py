"""Overspeed by one fast gap instead of two: what it would gain, and what it would cost. By hand, ten seconds:

    python -m tests.benchmarks.one_fast_gap

A runaway is played on the board's own controller from several speeds; the time from passing the limit to
power off is told beside the time to the first gap that is too fast. Then a sound table turns for ten hours
with one stray edge in a hundred, anywhere between two targets, and the gaps are counted that such a rule
would stop for.
"""

from __future__ import annotations

from collections import Counter
from random import Random

from firmware_protocol.messages import RUNNING
from firmware_protocol.ramp import mrpm_per_s
from firmware_protocol.settings import DEFAULTS
from firmware_protocol.table_speed import TableSpeed
from tests.firmware_protocol.portable.bench import Bench

HOURS = 10
STRAY = 0.01
JITTER_US = 200
FACTORS = (1, 2, 4, 8)
"""How many times faster than the limit a gap must be to count."""
ONE_TURN_MRPM_US = 60_000_000_000


def limit_mrpm(target_mrpm: int) -> int:
    """The board's limit at a steady speed."""
    return target_mrpm * 115 // 100 + 2000


def runaway_ms(target_mrpm: int, mrpm_s: int, phase: int) -> tuple[int, int]:
    """From passing the limit: ms to the first gap that is too fast, and ms to power off."""
    bench = Bench()
    bench.start(target_mrpm, 12)
    bench.steps(phase)
    bench.runaway_mrpm_s = mrpm_s
    limit = limit_mrpm(target_mrpm)
    while bench.speed < limit:
        bench.step()
    begun_ms, first_ms = bench.now_ms, 0
    table = bench.controller.motion.table
    while bench.controller.state == RUNNING:
        bench.step()
        if not first_ms and (table._suspects or table.overspeed):
            first_ms = bench.passed(begun_ms)
    return first_ms, bench.passed(begun_ms)


def false_stops(target_mrpm: int, random: Random) -> Counter[int]:
    """Gaps faster than the limit by each factor, on a sound table with stray edges."""
    unit = ONE_TURN_MRPM_US // DEFAULTS.table_edges_per_turn
    gap_us = unit // target_mrpm
    table = TableSpeed(DEFAULTS.table_edges_per_turn)
    table.judging = True
    jump = 4 * mrpm_per_s(DEFAULTS.planned_stop_mrad_s2)
    found: Counter[int] = Counter()
    at_us, last_us = 0, 0
    for _ in range(HOURS * 3_600_000_000 // gap_us):
        edges = [at_us + round(random.gauss(0.0, JITTER_US))]
        if random.random() < STRAY:
            edges.append(at_us + random.randrange(DEFAULTS.debounce_us, gap_us))
        for edge in edges:
            speed = unit // max(1, edge - last_us)
            found.update(factor for factor in FACTORS if speed > factor * limit_mrpm(target_mrpm))
            table.since_ms = 0
            table.edge(edge & 0xFFFFFFFF, limit_mrpm(target_mrpm), jump)
            found["as it is"] += table.overspeed  # type: ignore[index]
            table.overspeed = False
            last_us = edge
        at_us += gap_us
    return found


def main() -> None:
    """Print both."""
    print("speed, acceleration: slowest time to the first fast gap, and to power off")
    for target in (3000, 6000, 10000, 14000, 19000, 26000):
        for mrpm_s in (20000, 60000, 200000):
            told = [runaway_ms(target, mrpm_s, phase) for phase in range(0, 42, 3)]
            first, off = max(row[0] for row in told), max(row[1] for row in told)
            print(f"{target / 1000:4.0f} rpm, {mrpm_s / 1000:3.0f} rpm/s: {first:4} ms, {off:4} ms")
    random = Random(1)
    for target in (6000, 14000, 26000):
        found = false_stops(target, random)
        rates = ", ".join(f"{factor} x: {found[factor] / HOURS:.0f}" for factor in FACTORS)
        print(
            f"{target / 1000:.0f} rpm, false stops an hour by one gap faster than the limit: {rates}; "
            f"as it is: {found['as it is'] / HOURS:g}"
        )  # type: ignore[index]


if __name__ == "__main__":
    main()
