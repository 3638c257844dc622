"""How fast and how right the mechanics are: `python -m tests.benchmarks.physics_speed`, one core, a minute.

Times are processor times, best of several. The peer is SciPy: `dblquad` with exact limits and
`brentq`, run in the same minute and brought to the same accuracy. Prints a Markdown table.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable
from itertools import pairwise
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.integrate import dblquad, quad
from scipy.optimize import brentq

from benchctl.physics.case import read_case
from benchctl.physics.contact import Contact
from benchctl.physics.evenness import Turning
from benchctl.physics.pressure import solve_pressure
from benchctl.physics.solve import solve_contact, steady_state
from benchctl.physics.spin import coulomb_spin_ratio
from tests.physics.cases import case
from tests.physics.slow_solver import slow_solve

MIRROR, LOAD, MU = 0.25, 200.0, 0.3
REGIMES = {
    "in step, overhang and hole": case(),
    "lag by constant drag": case(post_drag_nm=0.31),
    "slip centre inside the contact": case(post_offset_m=0.01, post_drag_nm=7.0),
    "slip centre on the lap's rim": case(lap_radius_m=0.1, post_offset_m=0.05, post_drag_nm=3.5),
    "leading over a hole (uniform)": case(pressure_law="uniform", hole_radius_m=0.1, post_offset_m=0.03),
    "counter-rotating (uniform)": case(pressure_law="uniform", lap_radius_m=0.1, post_offset_m=0.27),
    "tilt by the drive point, lag": case(pivot_height_m=0.045, post_drag_nm=0.31),
}


def best_of(times: int, work: Callable[[], Any]) -> float:
    """Least processor time of several goes, seconds."""
    work()
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def row(what: str, ours_s: float, note: str) -> None:
    """One line of the table."""
    print(f"| {what} | {ours_s * 1e3:.2f} ms | {note} |", flush=True)


def spin_row(what: str, given: dict[str, Any]) -> None:
    """Time of pressure and spin, and distance from the slow solver's ratio."""
    checked = read_case(given)
    ours = best_of(30, lambda: steady_state(checked))
    slow = slow_solve({"pressure_law": "no_tension", "friction_law": "coulomb"} | given)
    error = abs(steady_state(checked).spin_ratio - slow["spin_ratio"])
    row(f"spin: {what}", ours, f"ratio off by {error:.0e}")


def peer_ratio(lap: float, offset: float, drag_nm: float, tolerance: float, split: bool) -> float:
    """The spin ratio under even pressure by dblquad with exact limits and brentq.

    `split`: the rings are cut by hand where they cease to be whole, which dblquad does not know.
    """
    share = MU * LOAD / Contact(MIRROR, lap, offset).area_m2

    def half(radius: float) -> float:
        cosine = (radius**2 + offset**2 - lap**2) / (2 * max(radius, 1e-12) * offset)
        return math.acos(min(1.0, max(-1.0, cosine)))

    def excess(ratio: float) -> float:
        def density(phi: float, radius: float) -> float:
            x, y = radius * math.cos(phi) - offset, radius * math.sin(phi)
            vx, vy = -(1 - ratio) * y, offset + (1 - ratio) * x
            speed = math.hypot(vx, vy)
            return radius * (x * vy - y * vx) / speed if speed else 0.0

        rim = min(MIRROR, lap + offset)
        cuts = [0.0, lap - offset, rim] if split else [0.0, rim]
        wanted = {"epsabs": tolerance * lap**3, "epsrel": tolerance}
        return (
            2 * share * sum(dblquad(density, a, b, 0.0, half, **wanted)[0] for a, b in pairwise(cuts))
            - drag_nm
        )

    return float(brentq(excess, 0.0, 1.0, xtol=tolerance))


def against_peer() -> None:
    """The same spin by SciPy, at an error of about 1e-8 in the ratio."""
    for name, lap, offset, drag in (
        ("uniform overhang", 0.175, 0.12, 0.0),
        ("full contact, drag", 0.15, 0.08, 3.0),
        ("slip centre inside", 0.15, 0.02, 5.0),
    ):
        contact = Contact(MIRROR, lap, offset)

        def ours(contact: Contact = contact, drag: float = drag) -> float:
            return coulomb_spin_ratio(contact, solve_pressure(contact, LOAD, "uniform"), MU, drag)

        fast = best_of(50, ours)
        row(f"spin: {name}", fast, "")
        for split in (False, True):
            start = time.process_time()
            found = peer_ratio(lap, offset, drag, 1e-8, split)
            slow = time.process_time() - start
            words = "dblquad and brentq, 1e-8" + (", rings cut by hand" if split else "")
            row(words, slow, f"**{slow / fast:.0f} times** ours; differs by {abs(found - ours()):.0e}")


def profile_rows() -> None:
    """200 radii, in step and lagging, against SciPy's quad at each."""
    contact = Contact(0.23, 0.155, 0.128, 0.031)
    pressure, radii = solve_pressure(contact, 189.0), np.linspace(0.031, 0.23, 200)
    for name, ratio in (("in step", 1.0), ("ratio 0.9", 0.9), ("ratio 0.3", 0.3)):
        turning = Turning(contact, pressure, 2.7, 2.7 * ratio, 6e-13)
        found = turning.rate(radii)
        fast = best_of(30, lambda turning=turning: turning.rate(radii))
        peer = np.array([peer_rate(contact, pressure.coefficients, ratio, float(r)) for r in radii])
        slow = best_of(
            1,
            lambda ratio=ratio: [peer_rate(contact, pressure.coefficients, ratio, float(r)) for r in radii],
        )
        error = float(np.abs(found - peer).max() / found.max())
        row(
            f"profile, 200 radii, {name}",
            fast,
            f"off by {error:.0e} of the greatest; quad: {slow / fast:.0f} times",
        )


def peer_rate(contact: Contact, plane: tuple[float, float, float], ratio: float, radius: float) -> float:
    """One radius by scipy.integrate.quad."""
    e, lap, (a, b, _) = contact.post_offset_m, contact.lap_radius_m, plane
    cosine = (radius**2 + e**2 - lap**2) / (2 * radius * e)
    widest = math.acos(min(1.0, max(-1.0, cosine)))

    def wear(phi: float) -> float:
        x, y = radius * math.cos(phi) - e, radius * math.sin(phi)
        return (a + b * x) * math.hypot((1 - ratio) * y, e + (1 - ratio) * x)

    return float(6e-13 * 2.7 / math.pi * quad(wear, 0.0, widest, epsrel=1e-12, epsabs=0.0, limit=200)[0])


def solve_rows() -> None:
    """Whole solves with evenness, and the sweep."""
    radii = np.linspace(0.031, 0.23, 200).tolist()
    for name, given in {
        "whole solve, in step": case(radii_m=radii),
        "whole solve, lagging": case(radii_m=radii, post_drag_nm=0.31),
        "whole solve, tilted and lagging": case(radii_m=radii, post_drag_nm=0.31, pivot_height_m=0.045),
        "whole solve, face lifted": case(radii_m=radii, post_drag_nm=0.31, post_offset_m=0.165),
        "whole solve, lifted and tilted": case(
            radii_m=radii, post_drag_nm=0.31, post_offset_m=0.165, pivot_height_m=0.045
        ),
    }.items():
        row(name, best_of(15, lambda given=given: solve_contact(given)), "with CV, PV, zones, 200 radii")
    offsets = np.linspace(0.02, 0.16, 400).tolist()
    sweep: Callable[[], Any] = lambda: [  # noqa: E731
        solve_contact(case(post_offset_m=e, post_drag_nm=0.31, radii_m=radii)) for e in offsets
    ]
    row("sweep of 400 offsets, whole solves", best_of(2, sweep), "20 to 160 mm, the last ones lifted")


def main() -> int:
    """Print the table."""
    print("| what | time | |\n|---|---|---|")
    for name, given in REGIMES.items():
        spin_row(name, given)
    against_peer()
    profile_rows()
    solve_rows()
    return 0


if __name__ == "__main__":
    sys.exit(main())
