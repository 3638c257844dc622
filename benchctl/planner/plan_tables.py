"""The tables of the plan: zones, offsets, removal over radius. In the units chosen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchctl import units
from benchctl.planner.plot import Curve, terminal_plot

MICRON_PER_HOUR = 3.6e9


def profile_lines(plan: dict[str, Any], system: str = units.METRIC) -> list[str]:
    """Removal over radius for a terminal."""
    even = plan["evenness"]
    radii = [units.in_system(r, units.LENGTH, system) for r in even["radii_m"]]
    rates = [MICRON_PER_HOUR * z for z in even["removal_rate_m_per_s"]]
    head = f"REMOVAL (um/h) OVER RADIUS ({units.mark_of(units.LENGTH, system)})"
    beyond = units.in_system(even["indicative_beyond_m"], units.LENGTH, system)
    return [head, *terminal_plot(Curve("removal", radii, rates), beyond)]


def zone_table(plan: dict[str, Any], system: str) -> list[str]:
    """How much each zone is worn, here and with a lap that lags."""
    zones = plan["evenness"]["zones"]
    lines = ["ZONES, share of the mean (inner to edge; the last is indicative)"]
    rings = "".join(_ring(z, system).rjust(9) for z in zones)
    lines.append(f"  {units.mark_of(units.LENGTH, system):<19}{rings}  edge/ctr  post drag")
    lines.append(_zone_row("here", [z["of_mean"] for z in zones], plan["evenness"]["edge_over_centre"], ""))
    for lag in plan["lag"]:
        name = "if the lap stops" if lag["spin_ratio"] == 0 else f"if the ratio is {lag['spin_ratio']:.1f}"
        drag = units.show(abs(lag["post_drag_nm"]), units.TORQUE, system)
        lines.append(_zone_row(name, lag["zone_shares"], lag["edge_over_centre"], drag))
    return lines


def _zone_row(name: str, shares: Sequence[float], edge: float | None, drag: str) -> str:
    cells = "".join(f"{share:9.3f}" for share in shares)
    return f"  {name:<19}{cells}  {ratio(edge):>8}  {drag}"


def _ring(zone: dict[str, Any], system: str) -> str:
    places = 1 if system == units.INCH else 0
    return "-".join(
        units.show_number(zone[key], units.LENGTH, system, places) for key in ("inner_m", "outer_m")
    )


def sweep_table(plan: dict[str, Any], system: str) -> list[str]:
    """What each place of the post would do."""
    lines = [
        "OFFSETS AROUND THE MOST EVEN ONE",
        f"   offset {units.mark_of(units.LENGTH, system)}   scatter   edge/centre   curve "
        "   inner   outer   spin",
    ]
    for point in plan["offsets"]["sweep"]:
        inner, outer = point["zone_shares"][0], point["zone_shares"][-1]
        offset = units.show_number(point["offset_m"], units.LENGTH, system, 2 if system == units.INCH else 1)
        place, edge = offset.rjust(12), ratio(point["edge_over_centre"])
        numbers = f"{point['curve_tendency']:+8.1%} {inner:8.3f}{outer:8.3f}{point['spin_ratio']:7.3f}"
        lifts = "  lifts" if point["face_lifted"] else ""
        lines.append(f"{place} {percent(point['cv']):>9} {edge:>13} {numbers}{lifts}")
    return lines


def percent(value: float | None, sign: str = "") -> str:
    """A share in percent to a tenth."""
    return "-" if value is None else f"{value:{sign}.1%}"


def ratio(value: float | None) -> str:
    """A ratio to a hundredth."""
    return "-" if value is None else f"{value:.2f}"
