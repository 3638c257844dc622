"""Scores the lap watcher against goals, with a plain baseline beside it. Run by hand:

    python -m tests.benchmarks.lapwatch_score [--seeds FIRST:LAST] [--hours H] [--only healthy,stall,...]

Tuning seeds are below 1000, the figures in docs/lap-watch.md are from seeds of 5000 and above.
"""

from __future__ import annotations

import argparse
import math
import statistics
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from benchctl.lapwatch import LapWatch, WatchSettings
from tests.benchmarks import lapwatch_foreign, lapwatch_traces
from tests.benchmarks.lapwatch_naive import NaiveWatch
from tests.benchmarks.lapwatch_traces import Sensor, Trace

GENERATORS = {"own": lapwatch_traces.make_trace, "foreign": lapwatch_foreign.make_trace}
make_trace = GENERATORS["own"]

ALARMS = {"jerky", "slowing", "stalled", "fast", "weak_signal", "no_signal"}
WORSE = {"placement_deg": 10.0, "lost": 0.03, "double": 0.03}


class Watch(Protocol):
    """What is scored."""

    state: str

    def pulse(self, at_s: float) -> None: ...

    def status(self, at_s: float, set_rpm: float, table_rpm: float, load_percent: float) -> None: ...


@dataclass
class Played:
    """Changes of state while a trace was played: (time, state)."""

    trace: Trace
    changes: list[tuple[float, str]]

    def state_at(self, at_s: float) -> str:
        """The state at a time."""
        state = "waiting"
        for when, name in self.changes:
            if when > at_s:
                break
            state = name
        return state

    def alarms(self, from_s: float, to_s: float = math.inf) -> list[tuple[float, str]]:
        """Alarms that begin in a span of time."""
        return [(t, s) for t, s in self.changes if s in ALARMS and from_s <= t < to_s]

    @property
    def steady_at_onset(self) -> bool:
        """Whether the watcher was steady when the fault began."""
        return self.state_at(self.trace.onset_s) == "steady"

    def first(self, *names: str) -> float | None:
        """Seconds from the onset to the first of the named states."""
        for when, state in self.changes:
            if when >= self.trace.onset_s and state in names:
                return when - self.trace.onset_s
        return None


def ours(trace: Trace) -> LapWatch:
    return LapWatch(WatchSettings(**trace.header))


def naive(trace: Trace) -> NaiveWatch:
    return NaiveWatch(trace.header["targets_per_turn"])


def play(trace: Trace, make: Callable[[Trace], Watch] = ours) -> Played:  # type: ignore[assignment]
    """Play a trace through a watcher."""
    watch = make(trace)
    changes: list[tuple[float, str]] = []
    state = "waiting"
    for at_s, kind, set_rpm, table_rpm, load in trace.events():
        if kind == 0:
            watch.pulse(at_s)
        else:
            watch.status(at_s, set_rpm, table_rpm, load)
        if watch.state != state:
            state = watch.state
            changes.append((at_s, state))
    return Played(trace, changes)


def quantile(values: Sequence[float], share: float) -> float:
    """The value that a share of the values does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, math.ceil(share * len(ordered)) - 1)] if ordered else math.nan


def played(
    scenario: str, seeds: Iterable[int], targets: int, make: Callable[..., Watch], **sensor: float
) -> list[Played]:
    return [play(make_trace(scenario, seed, Sensor(targets=targets, **sensor)), make) for seed in seeds]  # type: ignore[arg-type]


def healthy(
    hours: float, first_seed: int, make: Callable[..., Watch], counts: Sequence[int], **sensor: float
) -> None:
    """False alarms in healthy running, after the first minute."""
    length = 1200.0
    for targets in counts:
        found: Counter[str] = Counter()
        late = 0
        n = max(1, round(hours * 3600.0 / len(counts) / length))
        for seed in range(first_seed, first_seed + n):
            trace = make_trace("healthy", seed, Sensor(targets=targets, **sensor), length)  # type: ignore[arg-type]
            run = play(trace, make)
            start = trace.status[0, 0]
            for when, state in run.alarms(start + 60.0):
                found[state] += 1
                if make is ours:
                    print(f"    false {state} N={targets} seed={seed} at {when - start:.1f} s")
            late += not any(state == "steady" for _, state in run.changes)
        print(
            f"  healthy N={targets}: {n * length / 3600.0:.1f} h, {sum(found.values())} "
            f"alarms {dict(found)}, {late} of {n} never steady"
        )


def stall(seeds: range, make: Callable[..., Watch], counts: Sequence[int], **sensor: float) -> None:
    """Sudden stall: named, and pulse gaps past the moment at which the next target was due."""
    for targets in counts:
        runs = played("sudden_stall", seeds, targets, make, **sensor)
        delays, first, clear, never = [], Counter[str](), [], []
        for run in runs:
            took = run.first("stalled")
            if took is not None and (make is not ours or run.steady_at_onset):
                at_s, gap_s = run.trace.onset_s + took, run.trace.facts["gap_s"]
                delays.append((at_s - run.trace.facts["due_s"]) / gap_s)
                never.append((at_s - run.trace.facts["never_s"]) / gap_s)
                if run.trace.jump > 0.13:
                    clear.append(delays[-1])
            after = run.alarms(run.trace.onset_s)
            first[after[0][1] if after else "nothing"] += 1
        not_steady = sum(not run.steady_at_onset for run in runs)
        print(
            f"  sudden stall N={targets}: named {len(delays)} of {len(runs)} "
            f"({not_steady} not steady before), first {dict(first)}, gaps past "
            f"the limit "
            f"median {statistics.median(delays):.2f}, 95 % {quantile(delays, 0.95):.2f}; "
            f"where the load jumps by over 13 % {statistics.median(clear):.2f}, {quantile(clear, 0.95):.2f}; "
            f"past the due time of the first target that never came {statistics.median(never):.2f}, "
            f"{quantile(never, 0.95):.2f}"
        )


def jerk(seeds: range, make: Callable[..., Watch], counts: Sequence[int]) -> None:
    """Jerk of true severity 0.3 and more: any alarm, and the right name within three turns."""
    for targets in counts:
        any_turns, named, total, early, silent = [], 0, 0, 0, []
        mild = mild_alarms = 0
        for kind in ("jerk_oot", "jerk_bind"):
            for run in played(kind, seeds, targets, make):
                trace = run.trace
                severity = trace.facts["severity"]
                if severity < 0.3:
                    if severity >= 0.2:
                        mild += 1
                        mild_alarms += bool(run.alarms(trace.onset_s))
                    continue
                total += 1
                if make is ours and not run.steady_at_onset:
                    early += 1
                    silent.append((kind, trace.seed, "not steady", round(severity, 2)))
                    continue
                after = run.alarms(trace.onset_s)
                if after:
                    any_turns.append(trace.turns_between(trace.onset_s, after[0][0]))
                else:
                    silent.append((kind, trace.seed, "no alarm", round(severity, 2)))
                took = run.first("jerky")
                ok = took is not None and trace.turns_between(trace.onset_s, trace.onset_s + took) <= 3.0
                named += ok
                if after and not ok:
                    silent.append(
                        (
                            kind,
                            trace.seed,
                            [(round(t - trace.onset_s, 2), s) for t, s in run.changes if t > trace.onset_s][
                                :4
                            ],
                            round(severity, 2),
                        )
                    )
        print(
            f"  jerk N={targets}: alarmed {len(any_turns)} of {total} ({early} not steady), turns median "
            f"{statistics.median(any_turns):.2f}, 95 % {quantile(any_turns, 0.95):.2f};"
            f" named jerky in 3 turns {named}; "
            f"severity 0.2-0.3: {mild_alarms} of {mild}"
        )
        if make is ours:
            for line in silent:
                print("    ", *line)


def perfect_share(trace: Trace) -> float:
    """Share lost when a noise-free watcher of pulses alone could warn: at the first target after a gap
    that is 11.5 % slow in the mean (five deviations of the usual wander)."""
    import numpy as np

    loss = trace.loss
    summed = np.concatenate([[0.0], np.cumsum(loss[:-1, 1] * np.diff(loss[:, 0]))])
    before = [at_s for at_s in trace.pulses.tolist() if at_s <= trace.onset_s]
    last = before[-1]
    for at_s in trace.pulses.tolist()[len(before) :]:
        if at_s - last < 0.02:
            continue
        low, high = np.interp([last, at_s], loss[:, 0], summed)
        if (high - low) / (at_s - last) >= 0.115:
            return float(np.interp(at_s, loss[:, 0], loss[:, 1]))
        last = at_s
    return 1.0


def slow(seeds: range, make: Callable[..., Watch], counts: Sequence[int]) -> None:
    """Slow stall: share of the ratio gone at the first warning."""
    import numpy as np

    for targets in counts:
        shares, missed, possible = [], 0, 0
        for run in played("slow_stall", seeds, targets, make):
            possible += perfect_share(run.trace) <= 0.18
            after = run.alarms(run.trace.onset_s)
            if not after or (make is ours and not run.steady_at_onset):
                missed += 1
                continue
            loss = run.trace.loss
            shares.append(float(np.interp(after[0][0], loss[:, 0], loss[:, 1])))
        under = sum(share <= 0.18 for share in shares)
        print(
            f"  slow stall N={targets}: {missed} missed, share lost at first "
            f"warning median {statistics.median(shares):.3f}, "
            f"95 % {quantile(shares, 0.95):.3f}, under 0.18 in {under} of {len(shares) + missed}, "
            f"by perfect pulses in {possible}"
        )


def dead(seeds: range, make: Callable[..., Watch], counts: Sequence[int]) -> None:
    """Dead pickup: the first alarm's name, where the predicted jump is over 6 %."""
    for targets in counts:
        names: Counter[str] = Counter()
        low: Counter[str] = Counter()
        times = []
        for run in played("dead_sensor", seeds, targets, make):
            after = [s for _, s in run.alarms(run.trace.onset_s)]
            name = after[0] if after else "nothing"
            (names if run.trace.jump > 0.06 else low)[name] += 1
            if after:
                times.append(
                    (run.alarms(run.trace.onset_s)[0][0] - run.trace.onset_s) / run.trace.facts["turn_s"]
                )
        print(
            f"  dead pickup N={targets}: {dict(names)}, jump under 6 %: {dict(low)},"
            f" turns median {statistics.median(times):.2f}"
        )


def quiet(seeds: range, make: Callable[..., Watch], counts: Sequence[int]) -> None:
    """Sag, change of speed, start-up: alarms that should not come."""
    for targets in counts:
        for kind in ("sag", "speed_change", "startup", "emi"):
            runs = played(kind, seeds, targets, make)
            bad = [run for run in runs if run.alarms(run.trace.status[0, 0] + 60.0)]
            print(
                f"  {kind} N={targets}: {len(bad)} of {len(runs)} with a false "
                f"alarm, {sum(not r.steady_at_onset for r in runs)} not steady"
            )
            if make is ours:
                for run in bad:
                    print(
                        "    ",
                        kind,
                        run.trace.seed,
                        [
                            (round(t - run.trace.onset_s, 1), s)
                            for t, s in run.changes
                            if t > run.trace.status[0, 0] + 60
                        ][:6],
                    )


def others(seeds: range, make: Callable[..., Watch], counts: Sequence[int]) -> None:
    """Half grab, hesitations, runaway, off the post, weak pickup: what is said first."""
    for targets in counts:
        for kind in ("half_grab", "jerk_hes", "runaway", "off_post", "weak_sensor"):
            first, ever, turns = Counter[str](), Counter[str](), []
            for run in played(kind, seeds, targets, make):
                after = run.alarms(run.trace.onset_s)
                first[after[0][1] if after else "nothing"] += 1
                ever.update({state for _, state in after})
                if after:
                    turns.append((after[0][0] - run.trace.onset_s) / run.trace.facts["turn_s"])
            print(
                f"  {kind} N={targets}: first {dict(first)}, ever {dict(ever)},"
                f" turns median {statistics.median(turns) if turns else math.nan:.2f},"
                f" 95 % {quantile(turns, 0.95):.2f}"
            )


def turns_to_steady(trace: Trace, watch: LapWatch) -> float:
    """Lap turns from the start until the watcher first says steady, played to the end."""
    turns = math.inf
    for at_s, kind, a, b, c in trace.events():
        if kind == 0:
            watch.pulse(at_s)
        else:
            watch.status(at_s, a, b, c)
        if watch.state == "steady" and turns == math.inf:
            turns = trace.turns_between(trace.lap_s[0], at_s)
    return turns


def start(seeds: range, counts: Sequence[int]) -> None:
    """Healthy start to steady, lap turns, without memory and with that of a first play of the same trace."""
    for targets in counts:
        cold: list[float] = []
        warm: list[float] = []
        for seed in seeds:
            trace = make_trace("speed_change", seed, Sensor(targets=targets))
            first = ours(trace)
            cold.append(turns_to_steady(trace, first))
            again = LapWatch.restored(WatchSettings(**trace.header), first.memory())
            warm.append(turns_to_steady(trace, again))
        print(
            f"  start N={targets}: turns to steady median {statistics.median(cold):.1f},"
            f" 95 % {quantile(cold, 0.95):.1f}; with memory {statistics.median(warm):.1f},"
            f" {quantile(warm, 0.95):.1f}"
        )


def cost(plays: int = 5) -> None:
    """Microseconds of processor time a pulse and a report, the best of several plays of half an hour."""
    ticks = [time.process_time() for _ in range(10001)]
    timer = (ticks[-1] - ticks[0]) / 10000
    for targets in (1, 6, 12):
        trace = make_trace("healthy", 7, Sensor(targets=targets), 1800.0)
        events = trace.events()
        best = [math.inf, math.inf]
        for _ in range(plays):
            watch, spent, count = ours(trace), [0.0, 0.0], [0, 0]
            for at_s, kind, a, b, c in events:
                t0 = time.process_time()
                if kind == 0:
                    watch.pulse(at_s)
                else:
                    watch.status(at_s, a, b, c)
                spent[kind] += time.process_time() - t0 - timer
                count[kind] += 1
            best = [min(old, s / n) for old, s, n in zip(best, spent, count, strict=True)]
        hour = 2.0 * sum(one * n for one, n in zip(best, count, strict=True))
        print(
            f"  cost N={targets}: {1e6 * best[0]:.1f} us a pulse, {1e6 * best[1]:.2f} us a report; an hour in"
            f" {hour:.2f} s"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:40")
    parser.add_argument("--hours", type=float, default=10.0)
    parser.add_argument("--only", default="healthy,stall,jerk,slow,dead,quiet,others,start,cost")
    parser.add_argument("--targets", default="1,3,6,12")
    parser.add_argument("--worse", action="store_true", help="10 degrees, 3 %% lost, 3 %% doubled")
    parser.add_argument("--generator", choices=GENERATORS, default="own")
    parser.add_argument("--naive", action="store_true", help="score the baseline instead")
    args = parser.parse_args()
    global make_trace
    make_trace = GENERATORS[args.generator]
    low, high = (int(part) for part in args.seeds.split(":"))
    seeds, counts = range(low, high), [int(part) for part in args.targets.split(",")]
    make: Callable[..., Watch] = naive if args.naive else ours  # type: ignore[assignment]
    sensor = WORSE if args.worse else {}
    only = args.only.split(",")
    if "healthy" in only:
        healthy(args.hours, low, make, counts, **sensor)
    if "stall" in only:
        stall(seeds, make, counts, **sensor)
    for name, score in (("jerk", jerk), ("slow", slow), ("dead", dead), ("quiet", quiet), ("others", others)):
        if name in only:
            score(seeds, make, counts)
    if "start" in only:
        start(seeds, counts)
    if "cost" in only:
        cost()


if __name__ == "__main__":
    main()
