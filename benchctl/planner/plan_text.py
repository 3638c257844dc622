"""The plan in words and tables, for a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchctl.planner.plot import Curve, svg_plot, terminal_plot
from benchctl.units import printable

MICRON_PER_HOUR = 3.6e9
PSI = 6894.757
Row = tuple[str, str]
Section = tuple[str, list[Row]]


def sections_of(plan: dict[str, Any]) -> list[Section]:
    """Headings with rows of name and value, in the order a person asks."""
    return [
        ("set-up", _setup(plan["setup"], plan["overhang"])),
        ("pressure", _pressure(plan["pressure"])),
        ("spin and torque", _spin(plan["spin"], plan["table"])),
        ("evenness here", _evenness(plan["evenness"])),
        ("where to set the post", _offsets(plan["offsets"])),
        ("one millimetre outward", _per_mm(plan["offsets"]["per_mm_outward"])),
        ("segment", _segment(plan["segment"], plan["progress"])),
        ("stopping", _stopping(plan["stopping"])),
        ("weights, cleats, tilt", _holding(plan["weights"], plan["hold"], plan["tilt"])),
        ("water and heat", _water(plan["water"], plan["heat"])),
        ("curve", _curve(plan["curve"], plan["segment"])),
    ]


def plan_lines(plan: dict[str, Any], other: dict[str, Any] | None = None) -> list[str]:
    """The whole plan as lines; with `other`, its values in a second column."""
    lines = [f"Plan for {_name(plan)}" + (f", beside {_name(other)}" if other else "")]
    beside: dict[Row, str] = {}
    if other:
        for heading, rows in sections_of(other):
            beside |= {(heading, name): value for name, value in rows}
    sections = sections_of(plan)
    width = max(len(value) for _, rows in sections for _, value in rows) + 2 if other else 0
    for heading, rows in sections:
        lines += ["", heading.upper()]
        for name, value in rows:
            lines.append(f"  {name:<34}{value:<{width}}" + beside.get((heading, name), ""))
    for each in (plan, other) if other else (plan,):
        title = [f"{_name(each)}:"] if other else []
        lines += ["", *title, *_zone_table(each), "", *_sweep_table(each), "", *profile_lines(each)]
        lines += [f"! {words}" for words in each["warnings"]]
    return [line.rstrip() for line in lines]


def profile_lines(plan: dict[str, Any]) -> list[str]:
    """Removal over radius for a terminal."""
    even = plan["evenness"]
    radii = [1e3 * r for r in even["radii_m"]]
    rates = [MICRON_PER_HOUR * z for z in even["removal_rate_m_per_s"]]
    head = "REMOVAL (um/h) OVER RADIUS (mm)"
    return [head, *terminal_plot(Curve("removal", radii, rates), 1e3 * even["indicative_beyond_m"])]


def plan_svg(plan: dict[str, Any], other: dict[str, Any] | None = None) -> str:
    """Removal over radius as SVG: here, at the most even offset, and of another job beside it."""
    curves = [_curve_of(plan, f"post at {_mm(plan['setup']['post_offset_m'])}")]
    offsets, even = plan["offsets"], plan["evenness"]
    best = [MICRON_PER_HOUR * z for z in offsets["most_even_removal_rate_m_per_s"]]
    curves.append(
        Curve(f"most even, {_mm(offsets['most_even']['offset_m'])}", [1e3 * r for r in even["radii_m"]], best)
    )
    if other:
        curves.append(_curve_of(other, _name(other)[:30]))
    title = f"Removal over radius: {_name(plan)}"
    shade = 1e3 * even["indicative_beyond_m"]
    return svg_plot(title, "radius, mm", "removal, um/h", curves, shade)


def _curve_of(plan: dict[str, Any], name: str) -> Curve:
    even = plan["evenness"]
    return Curve(
        name,
        [1e3 * r for r in even["radii_m"]],
        [MICRON_PER_HOUR * z for z in even["removal_rate_m_per_s"]],
    )


def _name(plan: dict[str, Any]) -> str:
    setup = plan["setup"]
    return printable(f"{setup['mirror']}, lap {setup['lap']}")


def _setup(setup: dict[str, Any], overhang: dict[str, Any]) -> list[Row]:
    return [
        ("mirror", f"{_mm(2 * setup['mirror_radius_m'])}, hole {_mm(2 * setup['hole_radius_m'])}"),
        ("lap", f"{_mm(2 * setup['lap_radius_m'])}, load {setup['load_n']:.0f} N"),
        ("post offset", _mm(setup["post_offset_m"])),
        ("overhang", f"{_mm(overhang['overhang_m'])}, {overhang['of_mirror_diameter']:.1%} of the diameter"),
        ("table, rubbing speed", f"{setup['work_rpm']:g} rpm, {setup['rubbing_speed_m_s']:.2f} m/s"),
    ]


def _pressure(pressure: dict[str, Any]) -> list[Row]:
    names = (
        ("over the whole lap", "nominal_pa"),
        ("on the facets", "on_facets_pa"),
        ("on facets at the mirror's edge", "at_edge_pa"),
        ("greatest, tilt included", "peak_pa"),
        ("least", "least_pa"),
    )
    rows = [(name, f"{pressure[key] / 1e3:.2f} kPa, {pressure[key] / PSI:.2f} psi") for name, key in names]
    indicative = "at the edge: indicative, pitch is steeper in a narrow rim"
    return [*rows, ("how sure", indicative)]


def _spin(spin: dict[str, Any], table: dict[str, Any]) -> list[Row]:
    ratio = "stalled" if spin["stalled"] else f"{spin['predicted_ratio']:.3f} ({spin['lap_rpm']:.1f} rpm)"
    rise = table["rise_if_lap_stops"]
    return [
        ("spin ratio to expect", ratio),
        (
            "drag at the post",
            f"{spin['post_drag_nm']:.2f} of {spin['stall_torque_nm']:.2f} N m that stall it",
        ),
        ("a lag may mean", spin["causes_of_lag"][0]),
        ("", "or " + spin["causes_of_lag"][1]),
        ("table torque, power", f"{table['torque_nm']:.1f} N m, {table['power_w']:.0f} W"),
        ("torque if the lap stops", f"{table['torque_if_lap_stops_nm']:.1f} N m ({_percent(rise, '+')})"),
    ]


def _evenness(even: dict[str, Any]) -> list[Row]:
    return [
        (
            "scatter (CV); greatest less least",
            f"{_percent(even['cv'])}, {_percent(even['pv_over_mean'])} of mean",
        ),
        ("edge over centre (indicative)", _ratio(even["edge_over_centre"])),
        ("curve", _tendency(even["curve_tendency"])),
        ("mean removal", f"{MICRON_PER_HOUR * even['mean_rate_m_per_s']:.2f} um/h"),
    ]


def _tendency(value: float) -> str:
    if abs(value) < 0.005:
        return "stays where it is"
    return f"gets {'longer, edge' if value > 0 else 'shorter, centre'} ahead by {abs(value):.1%} of the mean"


def _offsets(offsets: dict[str, Any]) -> list[Row]:
    now, best, neutral = offsets["now"], offsets["most_even"], offsets["neutral"]
    lift = offsets["first_lift_m"]
    return [
        ("now", _place(now)),
        ("most even", f"{_place(best)}, {_move(offsets['move_to_most_even_m'])}"),
        (
            "neutral, curve stays",
            f"{_place(neutral)}, {_move(offsets['move_to_neutral_m'])}" if neutral else "none",
        ),
        ("face lifts from", _mm(lift) if lift is not None else "nowhere"),
    ]


def _place(point: dict[str, Any]) -> str:
    return f"{_mm(point['offset_m'])}, scatter {_percent(point['cv'])}"


def _move(distance_m: float) -> str:
    if abs(distance_m) < 0.5e-3:
        return "where the post is now"
    return f"{abs(1e3 * distance_m):.0f} mm {'outward' if distance_m > 0 else 'inward'} from here"


def _per_mm(change: dict[str, Any]) -> list[Row]:
    return [
        (
            "edge over centre (indicative)",
            "-" if change["edge_over_centre"] is None else f"{change['edge_over_centre']:+.3f}",
        ),
        ("edge less centre, fitted", f"{change['curve_tendency']:+.1%} of the mean"),
        ("inner zone, outer zone", f"{change['inner_zone']:+.1%}, {change['outer_zone']:+.1%}"),
    ]


def _segment(segment: dict[str, Any], progress: dict[str, Any]) -> list[Row]:
    turns = segment["turns_per_micron"]
    low, likely, high = (progress[f"segments_{word}"] for word in ("low", "likely", "high"))
    left = f"{low} to {high}, likely {likely}" if likely is not None else "-"
    return [
        ("length, turns", f"{segment['length_s'] / 60:.0f} min, {segment['turns']:.0f}"),
        ("depth", f"{1e6 * segment['depth_m']:.3f} um, {1e9 * segment['depth_per_turn_m']:.2f} nm a turn"),
        ("turns to a micron", f"{turns:.0f} ({segment['hours_per_micron']:.1f} h)" if turns else "-"),
        ("segments from fresh grinding", left),
        (
            "slowest zone",
            f"{progress['slowest_zone']} of 5, to remove {1e6 * progress['depth_to_remove_m']:.1f} um",
        ),
    ]


def _stopping(stop: dict[str, Any]) -> list[Row]:
    rows = [("planned stop", _stop(stop["planned"])), ("stop for a fault", _stop(stop["fault"]))]
    return [
        *rows,
        ("power cut, lap on", f"{stop['without_power_s']:.1f} s: already a hard stop"),
        ("power cut, no lap", f"{stop['without_power_bare_s']:.0f} s of coasting"),
    ]


def _stop(one: dict[str, Any]) -> str:
    return f"{one['time_s']:.1f} s, {one['turns']:.2f} turns; {_push(one['brake_torque_nm'])}"


def _push(torque_nm: float) -> str:
    return f"the drive {'brakes' if torque_nm > 0 else 'keeps pushing'} with {abs(torque_nm):.1f} N m"


def _holding(weights: dict[str, Any], hold: dict[str, Any], tilt: dict[str, Any]) -> list[Row]:
    loose = weights["highest_rpm"]
    limit = (
        f"{loose:.0f} rpm at {_mm(weights['radius_m'])} from the post"
        if loose is not None
        else "none, on the post"
    )
    safe = "captured" if weights["captured"] else ("hold" if weights["safe_at_work_speed"] else "MAY SLIDE")
    return [
        ("loose weights stay below", limit),
        ("these weights", safe),
        ("side force, friction holds", f"{hold['side_force_n']:.0f} N, {hold['friction_holds_n']:.0f} N"),
        ("side force if the lap grabs", f"{hold['side_force_if_grabbing_n']:.0f} N: {_cleats(hold)}"),
        (
            "drive point, edge unloads at",
            f"{_mm(tilt['drive_point_height_m'])}, {_mm(tilt['edge_unloads_m'])}",
        ),
    ]


def _cleats(hold: dict[str, Any]) -> str:
    if hold["cleats"]:
        return "cleats carry it"
    return "cleats needed" if hold["cleats_needed"] else "friction holds it"


def _water(water: dict[str, Any], heat: dict[str, Any]) -> list[Row]:
    dry, (thin, thick) = water["dry_in_s"], water["dry_in_range_s"]
    drying = (
        "never"
        if dry is None
        else f"{dry / 60:.0f} min ({thin / 60:.0f} for a thin film, {thick / 60:.0f} for a thick one)"
    )
    return [
        ("dry in", drying),
        ("wetting every", f"{water['rewet_every_s'] / 60:.1f} min"),
        (
            "friction, evaporation",
            f"{heat['flux_w_m2']:.0f} W/m2 in, {heat['evaporation_w_m2']:.0f} W/m2 out",
        ),
        ("warming at most, bow at most", f"{heat['face_rise_k']:.1f} K, {1e6 * heat['bow_m']:.1f} um"),
        ("before a test, wait", f"{3 * max(heat['face_to_back_s'], heat['with_room_s']) / 3600:.1f} h"),
    ]


def _curve(curve: dict[str, Any], segment: dict[str, Any]) -> list[Row]:
    return [
        ("radius, sagitta", f"{_mm(curve['radius_m'])}, {1e3 * curve['sagitta_sphere_m']:.3f} mm (sphere)"),
        ("this segment moves the radius", f"{1e3 * segment['curve_drift_m']:+.3f} mm"),
    ]


def _zone_table(plan: dict[str, Any]) -> list[str]:
    zones = plan["evenness"]["zones"]
    lines = ["ZONES, share of the mean (inner to edge; the last is indicative)"]
    rings = "".join(f"{1e3 * z['inner_m']:.0f}-{1e3 * z['outer_m']:.0f}".rjust(9) for z in zones)
    lines.append(f"  {'mm':<19}{rings}  edge/ctr  post drag")
    lines.append(_zone_row("here", [z["of_mean"] for z in zones], plan["evenness"]["edge_over_centre"], None))
    for lag in plan["lag"]:
        name = "if the lap stops" if lag["spin_ratio"] == 0 else f"if the ratio is {lag['spin_ratio']:.1f}"
        lines.append(_zone_row(name, lag["zone_shares"], lag["edge_over_centre"], lag["post_drag_nm"]))
    return lines


def _zone_row(name: str, shares: Sequence[float], edge: float | None, drag: float | None) -> str:
    cells = "".join(f"{share:9.3f}" for share in shares)
    held = f"  {abs(drag):.2f} N m" if drag is not None else ""
    return f"  {name:<19}{cells}  {_ratio(edge):>8}{held}"


def _sweep_table(plan: dict[str, Any]) -> list[str]:
    lines = [
        "OFFSETS AROUND THE MOST EVEN ONE",
        "   offset mm   scatter   edge/centre   curve    inner   outer   spin",
    ]
    for point in plan["offsets"]["sweep"]:
        inner, outer = point["zone_shares"][0], point["zone_shares"][-1]
        place, edge = f"{1e3 * point['offset_m']:12.1f}", _ratio(point["edge_over_centre"])
        numbers = f"{point['curve_tendency']:+8.1%} {inner:8.3f}{outer:8.3f}{point['spin_ratio']:7.3f}"
        lifts = "  lifts" if point["face_lifted"] else ""
        lines.append(f"{place} {_percent(point['cv']):>9} {edge:>13} {numbers}{lifts}")
    return lines


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.1f}".removesuffix(".0") + " mm"


def _percent(value: float | None, sign: str = "") -> str:
    return "-" if value is None else f"{value:{sign}.1%}"


def _ratio(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"
