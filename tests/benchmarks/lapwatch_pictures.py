"""Pictures of what the watcher saw, as SVG, for docs/lap-watch.md. Run by hand:

python -m tests.benchmarks.lapwatch_pictures docs/pictures
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.benchmarks.lapwatch_score import ours
from tests.benchmarks.lapwatch_traces import Sensor, Trace, make_trace

WIDTH, HEIGHT, LEFT, TOP = 760.0, 250.0, 44.0, 20.0
COLOURS = {
    "waiting": "#eeeeee",
    "settling": "#e4e4d0",
    "steady": "#ffffff",
    "jerky": "#f3d9b1",
    "slowing": "#f7edb5",
    "stalled": "#f2b8b0",
    "fast": "#d5c6ea",
    "weak_signal": "#c9dff0",
    "no_signal": "#bcd0d8",
}
CASES = (
    ("sudden_stall", 5001, "The lap stops at once"),
    ("jerk_oot", 5005, "A jerk once a lap turn"),
    ("slow_stall", 5002, "The lap stops slowly"),
    ("dead_sensor", 5003, "The pickup dies"),
)


def picture(trace: Trace, title: str, before_s: float, after_s: float) -> str:
    """Spin ratio now, one-turn mean and load against time, with the states behind them."""
    watch = ours(trace)
    rows: list[tuple[float, str, float | None, float | None, float]] = []
    for at_s, kind, set_rpm, table_rpm, load in trace.events():
        if kind == 0:
            watch.pulse(at_s)
        else:
            watch.status(at_s, set_rpm, table_rpm, load)
            if -before_s <= at_s - trace.onset_s <= after_s:
                verdict = watch.verdict
                rows.append((at_s, verdict.state, verdict.spin_now, verdict.spin_ratio, load))
    start, end = rows[0][0], rows[-1][0]
    top_load = max(row[4] for row in rows) * 1.2

    def x(at_s: float) -> float:
        return LEFT + (at_s - start) / (end - start) * (WIDTH - LEFT - 10.0)

    def line(values: list[tuple[float, float]], colour: str, width: float) -> str:
        points = " ".join(f"{x(t):.1f},{TOP + (1.0 - v / 1.2) * (HEIGHT - 60.0):.1f}" for t, v in values)
        return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width}"/>'

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" font-size="12">'
    ]
    begun = 0
    for i in range(1, len(rows) + 1):
        if i == len(rows) or rows[i][1] != rows[begun][1]:
            left, right = x(rows[begun][0]), x(rows[min(i, len(rows) - 1)][0])
            state = rows[begun][1]
            parts.append(
                f'<rect x="{left:.1f}" y="{TOP}" width="{right - left:.1f}" height="{HEIGHT - 60:.0f}" '
                f'fill="{COLOURS[state]}"/><text x="{left + 3:.1f}" y="{TOP - 5:.0f}">{state}</text>'
            )
            begun = i
    for ratio in (0.0, 0.5, 1.0):
        y = TOP + (1.0 - ratio / 1.2) * (HEIGHT - 60.0)
        parts.append(f'<line x1="{LEFT}" x2="{WIDTH - 10.0}" y1="{y:.1f}" y2="{y:.1f}" stroke="#dddddd"/>')
        parts.append(f'<text x="{LEFT - 24.0}" y="{y + 4.0:.1f}">{ratio:.1f}</text>')
    parts.append(line([(r[0], r[4] / top_load) for r in rows], "#b0b0b0", 0.7))
    parts.append(line([(r[0], min(1.2, r[2])) for r in rows if r[2] is not None], "#2b6cb0", 1.2))
    parts.append(line([(r[0], min(1.2, r[3])) for r in rows if r[3] is not None], "#000000", 1.6))
    parts.append(
        f'<line x1="{x(trace.onset_s):.1f}" x2="{x(trace.onset_s):.1f}" y1="{TOP}" y2="{HEIGHT - 40:.0f}"'
    )
    parts.append(' stroke="#c00000" stroke-dasharray="4 3"/>')
    targets = trace.header["targets_per_turn"]
    said = f"{title}; {targets} targets, {end - start:.0f} s: black one-turn spin ratio, blue ratio now, "
    said += "grey load, red line: the fault begins"
    parts.append(f'<text x="{LEFT}" y="{HEIGHT - 8:.0f}">{said}</text></svg>')
    return "\n".join(parts)


def main() -> None:
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "docs/pictures")
    folder.mkdir(parents=True, exist_ok=True)
    for scenario, seed, title in CASES:
        trace = make_trace(scenario, seed, Sensor(targets=6))
        after = 60.0 if scenario == "slow_stall" else 15.0
        (folder / f"lapwatch-{scenario.replace('_', '-')}.svg").write_text(
            picture(trace, title, 15.0, after) + "\n"
        )


if __name__ == "__main__":
    main()
