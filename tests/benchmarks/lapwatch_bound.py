"""What the best watcher of a sudden stop could know in time, by set-up. Run by hand:

    python -m tests.benchmarks.lapwatch_bound [--seeds FIRST:LAST]

It knows what no watcher can: the usual ratio, the places of the targets, the share of lost pulses, the true
rise of load, and the load's noise. It has two kinds of evidence, in nats: each absent target gives the log of
one over the share usually lost; the load gives what the innovations of a Kalman filter give (a level that
drifts like a random walk under white noise): in the mean half the square of the rise over their variance, in
each trace with the luck of its noise. It calls a stop when both together pass the same proof as the watcher,
from the same budget of false stops. Lag of load, the lap's own slowing, and that a lap may only jerk are left
out, in its favour.
"""

from __future__ import annotations

import argparse
import math
import statistics

import numpy as np

from benchctl.lapwatch.absence import proof_needed
from tests.benchmarks.lapwatch_score import quantile
from tests.benchmarks.lapwatch_traces import Sensor, Trace, make_trace

LOST = 0.01
WHITE, RATED_PERCENT = 0.02, 0.3
SLOW, SLOW_S = 0.012, 10.0
"""Noise of the load in the generator: white, of rating, and a slow part whose memory is 4 to 20 s."""
BEARING = 0.92
"""Share of the load that the contact takes, in the mean; the rest does not rise."""


def load_nats(rise: float, load_percent: float, report_s: float, after_s: float) -> float:
    """Mean nats for a stop that began `after_s` ago."""
    white2 = WHITE**2 + (RATED_PERCENT / load_percent) ** 2
    drift2 = 2.0 * SLOW**2 * report_s / SLOW_S
    ahead2 = 0.5 * (drift2 + math.sqrt(drift2**2 + 4.0 * drift2 * white2))
    innovation2 = ahead2 + white2
    keep2 = (white2 / innovation2) ** 2
    reports = max(0.0, after_s / report_s)
    return 0.5 * rise**2 / innovation2 * (1.0 - keep2**reports) / (1.0 - keep2)


def gaps_past_due(trace: Trace) -> float:
    """Pulse gaps past the due time of the next target, when the evidence is enough."""
    gap_s, due_s = trace.facts["gap_s"], trace.facts["due_s"] - trace.onset_s
    before = trace.status[trace.status[:, 0] < trace.onset_s]
    report_s = float(np.median(np.diff(before[:, 0])))
    proof = proof_needed(3600.0 / gap_s)
    luck = float(np.random.default_rng([5, trace.seed]).normal())
    late_s = 0.0
    while True:
        absent = 1 + int(late_s / gap_s)
        load = load_nats(trace.jump * BEARING, float(before[-200:, 3].mean()), report_s, due_s + late_s)
        load += luck * math.sqrt(2.0 * load)
        if absent * -math.log(LOST) + load >= proof:
            return late_s / gap_s
        late_s += 0.02 * gap_s


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:40")
    low, high = (int(part) for part in parser.parse_args().seeds.split(":"))
    for targets in (1, 3, 6, 12):
        traces = [make_trace("sudden_stall", seed, Sensor(targets=targets)) for seed in range(low, high)]
        late = [gaps_past_due(trace) for trace in traces]
        small = sum(trace.jump < 0.06 for trace in traces)
        print(
            f"N={targets}: best possible, gaps past due, median {statistics.median(late):.2f},"
            f" 95 % {quantile(late, 0.95):.2f}; {small} of {len(late)} set-ups with a rise under 6 %,"
            f" {sum(x > 1.5 for x in late)} of all past 1.5"
        )


if __name__ == "__main__":
    main()
