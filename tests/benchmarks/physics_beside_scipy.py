"""The spin solve beside SciPy's dblquad and brentq, in the same run, where it is easy and where it is hard.

Run by hand: `python -m tests.benchmarks.physics_beside_scipy`. Prints a table in Markdown. Processor time,
the best of several runs for ours; keep the ratios. SciPy gets two arrangements of the same integral: in x and
y, as one writes it down, and in polar form about the mirror's axis, cut where the arcs bend, the best found.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from time import process_time
from typing import Any

from scipy.integrate import dblquad
from scipy.optimize import brentq

from benchctl.physics.case import Case, read_case
from benchctl.physics.solve import steady_state

MIRROR, LAP, LOAD, MU = 0.25, 0.175, 200.0, 0.3
SPINS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("overhang, even pressure", {"post_offset_m": 0.12, "pressure_law": "uniform"}),
    ("overhang, drag 1.5 N m", {"post_offset_m": 0.137, "post_drag_nm": 1.5}),
    ("slip centre inside the contact", {"post_offset_m": 0.04, "post_drag_nm": 4.0}),
    ("slip centre inside, small offset", {"post_offset_m": 0.005, "post_drag_nm": 5.0}),
    ("slip centre near the lap's rim", {"post_offset_m": 0.08, "post_drag_nm": 2.925}),
)
Pull = Callable[[float, float], float]


def case(changed: dict[str, Any]) -> Case:
    """A 500 mm mirror and a 350 mm lap at 35 rpm."""
    given: dict[str, Any] = {
        "mirror_radius_m": MIRROR,
        "lap_radius_m": LAP,
        "load_n": LOAD,
        "friction_coefficient": MU,
        "table_speed_rad_per_s": 3.665191429188092,
        "preston_per_pa": 1e-12,
    }
    return read_case(given | changed)


def pull_of(given: Case, a: float, b: float, ratio: float) -> Pull:
    """Torque density on the lap at x, y from its centre, per unit of friction, at pressure a + b x."""
    offset, slip = given.contact.post_offset_m, 1.0 - ratio

    def pull(x: float, y: float) -> float:
        vx, vy = -slip * y, offset + slip * x
        return (a + b * x) * (x * vy - y * vx) / (math.hypot(vx, vy) or 1.0)

    return pull


def polar(offset: float, pull: Pull, tolerance: float) -> float:
    """Lap torque in polar form about the mirror's axis, exact limits, cut where the arcs bend."""

    def reach(r: float) -> float:
        cosine = (r * r + offset * offset - LAP * LAP) / (2 * r * offset) if r > 0 else -1.0
        return math.acos(min(1.0, max(-1.0, cosine)))

    bends = sorted({0.0, min(MIRROR, LAP - offset), min(MIRROR, LAP + offset)})
    accuracy = {"epsabs": tolerance * LOAD * LAP, "epsrel": tolerance}
    return 2.0 * sum(
        dblquad(
            lambda phi, r: r * pull(r * math.cos(phi) - offset, r * math.sin(phi)),
            low,
            high,
            0.0,
            reach,
            **accuracy,
        )[0]
        for low, high in pairwise(bends)
    )


def plain(offset: float, pull: Pull, tolerance: float) -> float:
    """Lap torque in x and y, exact limits."""

    def height(x: float) -> float:
        return math.sqrt(max(0.0, min(LAP**2 - x * x, MIRROR**2 - (x + offset) ** 2)))

    accuracy = {"epsabs": tolerance * LOAD * LAP, "epsrel": tolerance}
    right = min(LAP, MIRROR - offset)
    return 2.0 * float(dblquad(lambda y, x: pull(x, y), -LAP, right, 0.0, height, **accuracy)[0])


def by_scipy(given: Case, way: Callable[[float, Pull, float], float], tolerance: float = 1e-8) -> float:
    """Spin ratio by dblquad and brentq; the pressure is given to them."""
    pressure = steady_state(given).pressure

    def excess(ratio: float) -> float:
        pull = pull_of(given, pressure.a, pressure.b, ratio)
        return MU * way(given.contact.post_offset_m, pull, tolerance) - given.post_drag_nm

    return float(brentq(excess, 0.0, 0.9999, xtol=1e-9))


def timed(act: Callable[[], Any], runs: int) -> float:
    """Shortest of several runs, seconds of the processor."""
    times = []
    for _ in range(runs):
        start = process_time()
        act()
        times.append(process_time() - start)
    return min(times)


def main() -> None:
    """Print the table."""
    print("| spin solve | ours | SciPy in x, y | slower | differs | SciPy in polar | slower | differs |")
    print("|---|---|---|---|---|---|---|---|")
    for name, changed in SPINS:
        given = case(changed)
        ratio, own = steady_state(given).spin_ratio, timed(lambda given=given: steady_state(given), 30)
        cells = []
        for way in (plain, polar):
            slow = timed(lambda given=given, way=way: by_scipy(given, way), 2)
            off = abs(by_scipy(given, way) - ratio)
            cells.append(f"{slow * 1e3:.0f} ms | {slow / own:.0f} x | {off:.0e}")
        print(f"| {name} | {own * 1e3:.2f} ms | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
