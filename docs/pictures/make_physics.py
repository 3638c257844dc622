"""Draw the pictures of docs/physics.md from the program's own functions.

Run `python docs/pictures/make_physics.py` after a change of the mechanics; a test tells when one is old.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from benchctl.physics import drying
from benchctl.physics.case import Case, read_case
from benchctl.physics.contact import Contact
from benchctl.physics.pressure import solve_pressure
from benchctl.physics.solve import answer, steady_state
from benchctl.planner.case_of import moved
from benchctl.planner.lag import with_drag
from benchctl.planner.plot import Curve, svg_plot
from benchctl.planner.sweet_spot import at_offset

HERE = Path(__file__).parent
LAP, LOAD, MU = 0.7, 200.0, 0.3
EVEN = 0.548
RADII = [float(r) for r in np.linspace(0.0, 1.0, 121)]


def case(offset: float) -> Case:
    """A mirror of radius 1, a lap of 0.7, no drag."""
    given: dict[str, Any] = {
        "mirror_radius_m": 1.0,
        "lap_radius_m": LAP,
        "post_offset_m": offset,
        "load_n": LOAD,
        "friction_coefficient": MU,
        "table_speed_rad_per_s": 1.0,
        "preston_per_pa": 1e-12,
        "radii_m": RADII,
    }
    return read_case(given)


def over_mean(given: Case) -> list[float]:
    """Removal over its mean at RADII."""
    found = answer(given)
    return [rate / found["mean_rate_m_per_s"] for rate in found["removal_rate_m_per_s"]]


def removal_by_offset() -> str:
    """Removal over radius at three offsets."""
    curves = [Curve(f"post at {e} R", RADII, over_mean(case(e))) for e in (0.50, EVEN, 0.60)]
    return svg_plot("Removal at three offsets, lap 0.7 R", "radius / R", "removal / mean", curves, 0.96)


def removal_by_lag() -> str:
    """Removal over radius when the lap lags."""
    curves = []
    stall = steady_state(case(EVEN)).stall_torque_nm
    for share in (0.0, 0.2, 1.0):
        given = with_drag(case(EVEN), share * stall)
        ratio = steady_state(given).spin_ratio
        curves.append(Curve(f"spin ratio {ratio:.2f}", RADII, over_mean(given)))
    return svg_plot(
        "Removal when the lap lags, post at 0.548 R", "radius / R", "removal / mean", curves, 0.96
    )


def evenness_by_offset() -> str:
    """Scatter of the removal over the offset, for three laps."""
    offsets = [float(e) for e in np.linspace(0.40, 0.70, 61)]
    curves = []
    for lap in (0.6, 0.7, 0.8):
        kept = []
        for offset in offsets:
            given = case(EVEN)
            contact = Contact(1.0, lap, offset)
            point = at_offset(moved(_with_lap(given, contact), offset), offset)
            kept.append(100.0 * (point.cv or 0.0))
        curves.append(Curve(f"lap {lap} R", offsets, kept))
    return svg_plot("Where to set the post", "post offset / R", "scatter of removal, %", curves)


def _with_lap(given: Case, contact: Contact) -> Case:
    from dataclasses import replace

    return replace(given, contact=contact)


def spin_by_drag() -> str:
    """Spin ratio over the drag at the post, at three offsets."""
    shares = [float(s) for s in np.linspace(0.0, 1.0, 41)]
    curves = []
    for offset in (0.05, 0.3, EVEN):
        stall = steady_state(case(offset)).stall_torque_nm
        ratios = [steady_state(with_drag(case(offset), share * stall)).spin_ratio for share in shares]
        curves.append(Curve(f"post at {offset} R", shares, ratios))
    return svg_plot("What drag at the post does", "drag / drag that stalls", "spin ratio", curves)


def pressure_by_offset() -> str:
    """Pressure along the line from the mirror's centre through the post."""
    curves = []
    for offset in (0.30, EVEN, 0.72):
        pressure = solve_pressure(Contact(1.0, LAP, offset), LOAD)
        mean = LOAD / (math.pi * LAP**2)
        radii = [float(r) for r in np.linspace(offset - LAP, 1.0, 121)]
        values = [max(0.0, pressure.a + pressure.b * (r - offset)) / mean for r in radii]
        curves.append(Curve(f"post at {offset} R", radii, values))
    return svg_plot(
        "Pressure under the lap", "place along the line to the post / R", "pressure / W/(pi Rl^2)", curves
    )


def drying_by_humidity() -> str:
    """Minutes until 50 um of water are gone."""
    shares = [float(h) for h in np.linspace(0.2, 0.8, 61)]
    curves = []
    for temperature in (16.0, 20.0, 26.0):
        minutes = []
        for humidity in shares:
            rate = drying.evaporation_kg_m2_s(temperature, humidity, 0.63)
            minutes.append((drying.time_to_dry_s(50e-6, rate) or 0.0) / 60)
        curves.append(Curve(f"room {temperature:.0f} C", [100 * h for h in shares], minutes))
    return svg_plot("How long 50 um of water last at a rim of 0.63 m/s", "humidity, %", "minutes", curves)


PICTURES = {
    "removal-by-offset.svg": removal_by_offset,
    "removal-by-lag.svg": removal_by_lag,
    "evenness-by-offset.svg": evenness_by_offset,
    "spin-by-drag.svg": spin_by_drag,
    "pressure-by-offset.svg": pressure_by_offset,
    "drying-by-humidity.svg": drying_by_humidity,
}

if __name__ == "__main__":
    for name, draw in PICTURES.items():
        (HERE / name).write_text(draw(), encoding="utf-8")
