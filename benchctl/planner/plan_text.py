"""The plan in words and tables, for a person."""

from __future__ import annotations

from typing import Any

from benchctl import units
from benchctl.planner.plan_tables import (
    MICRON_PER_HOUR,
    percent,
    profile_lines,
    ratio,
    sweep_table,
    zone_table,
)
from benchctl.planner.plot import Curve, svg_plot
from benchctl.units import printable

Row = tuple[str, str]
Section = tuple[str, list[Row]]


def sections_of(plan: dict[str, Any], system: str = units.METRIC) -> list[Section]:
    """Headings with rows of name and value, in the order a person asks, in the units of `system`."""
    say = _Say(system)
    return [
        ("set-up", _setup(plan["setup"], plan["overhang"], say)),
        ("pressure", _pressure(plan["pressure"], say)),
        ("spin and torque", _spin(plan["spin"], plan["table"], say)),
        ("evenness here", _evenness(plan["evenness"])),
        ("where to set the post", _offsets(plan["offsets"], say)),
        ("one millimetre outward", _per_mm(plan["offsets"]["per_mm_outward"])),
        ("segment", _segment(plan["segment"], plan["progress"])),
        ("stopping", _stopping(plan["stopping"], say)),
        ("weights, cleats, tilt", _holding(plan["weights"], plan["hold"], plan["tilt"], say)),
        ("water and heat", _water(plan["water"], plan["heat"])),
        ("curve", _curve(plan["curve"], plan["segment"], say)),
    ]


def plan_lines(
    plan: dict[str, Any], other: dict[str, Any] | None = None, system: str = units.METRIC
) -> list[str]:
    """The whole plan as lines in the units of `system`; with `other`, its values in a second column."""
    lines = [f"Plan for {_name(plan)}" + (f", beside {_name(other)}" if other else "")]
    beside: dict[Row, str] = {}
    if other:
        for heading, rows in sections_of(other, system):
            beside |= {(heading, name): value for name, value in rows}
    sections = sections_of(plan, system)
    width = max(len(value) for _, rows in sections for _, value in rows) + 2 if other else 0
    for heading, rows in sections:
        lines += ["", heading.upper()]
        for name, value in rows:
            lines.append(f"  {name:<34}{value:<{width}}" + beside.get((heading, name), ""))
    for each in (plan, other) if other else (plan,):
        title = [f"{_name(each)}:"] if other else []
        lines += [
            "",
            *title,
            *zone_table(each, system),
            "",
            *sweep_table(each, system),
            "",
            *profile_lines(each, system),
        ]
        lines += [f"! {words}" for words in each["warnings"]]
    return [line.rstrip() for line in lines]


class _Say:
    """Quantities in words of one system of units."""

    def __init__(self, system: str) -> None:
        self.system = system

    def length(self, metres: float) -> str:
        """To a tenth of a millimetre, or to a hundredth of an inch."""
        places = 2 if self.system == units.INCH else 1
        number = units.show_number(metres, units.LENGTH, self.system, places)
        return f"{number.removesuffix('.0')} {units.mark_of(units.LENGTH, self.system)}"

    def fine(self, metres: float, sign: str = "-") -> str:
        """To a micrometre, or to a ten-thousandth of an inch."""
        places = 4 if self.system == units.INCH else 3
        number = units.in_system(metres, units.LENGTH, self.system)
        return f"{number:{sign}.{places}f} {units.mark_of(units.LENGTH, self.system)}"

    def force(self, newtons: float) -> str:
        return units.show(newtons, units.FORCE, self.system)

    def torque(self, newton_metres: float, places: int = 2) -> str:
        return units.show(newton_metres, units.TORQUE, self.system, places)

    def pressure(self, pascals: float) -> str:
        return units.show(pascals, units.PRESSURE, self.system)

    def speed(self, metres_per_second: float) -> str:
        return units.show(metres_per_second, units.SPEED, self.system)


def plan_svg(plan: dict[str, Any], other: dict[str, Any] | None = None) -> str:
    """Removal over radius as SVG: here, at the most even offset, and of another job beside it."""
    say = _Say(units.METRIC)
    curves = [_curve_of(plan, f"post at {say.length(plan['setup']['post_offset_m'])}")]
    offsets, even = plan["offsets"], plan["evenness"]
    best = [MICRON_PER_HOUR * z for z in offsets["most_even_removal_rate_m_per_s"]]
    curves.append(
        Curve(
            f"most even, {say.length(offsets['most_even']['offset_m'])}",
            [1e3 * r for r in even["radii_m"]],
            best,
        )
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


def _setup(setup: dict[str, Any], overhang: dict[str, Any], say: _Say) -> list[Row]:
    return [
        (
            "mirror",
            f"{say.length(2 * setup['mirror_radius_m'])}, hole {say.length(2 * setup['hole_radius_m'])}",
        ),
        ("lap", f"{say.length(2 * setup['lap_radius_m'])}, load {say.force(setup['load_n'])}"),
        ("post offset", say.length(setup["post_offset_m"])),
        (
            "overhang",
            f"{say.length(overhang['overhang_m'])}, {overhang['of_mirror_diameter']:.1%} of the diameter",
        ),
        ("table, rubbing speed", f"{setup['work_rpm']:g} rpm, {say.speed(setup['rubbing_speed_m_s'])}"),
    ]


def _pressure(pressure: dict[str, Any], say: _Say) -> list[Row]:
    names = (
        ("over the whole lap", "nominal_pa"),
        ("on the facets", "on_facets_pa"),
        ("on facets at the mirror's edge", "at_edge_pa"),
        ("greatest, tilt included", "peak_pa"),
        ("least", "least_pa"),
    )
    rows = [(name, say.pressure(pressure[key])) for name, key in names]
    indicative = "at the edge: indicative, pitch is steeper in a narrow rim"
    return [*rows, ("how sure", indicative)]


def _spin(spin: dict[str, Any], table: dict[str, Any], say: _Say) -> list[Row]:
    ratio = "stalled" if spin["stalled"] else f"{spin['predicted_ratio']:.3f} ({spin['lap_rpm']:.1f} rpm)"
    rise = table["rise_if_lap_stops"]
    return [
        ("spin ratio to expect", ratio),
        (
            "drag at the post",
            f"{say.torque(spin['post_drag_nm'])} of {say.torque(spin['stall_torque_nm'])} that stall it",
        ),
        ("a lag may mean", spin["causes_of_lag"][0]),
        ("", "or " + spin["causes_of_lag"][1]),
        ("table torque, power", f"{say.torque(table['torque_nm'], 1)}, {table['power_w']:.0f} W"),
        (
            "torque if the lap stops",
            f"{say.torque(table['torque_if_lap_stops_nm'], 1)} ({percent(rise, '+')})",
        ),
    ]


def _evenness(even: dict[str, Any]) -> list[Row]:
    return [
        (
            "scatter (CV); greatest less least",
            f"{percent(even['cv'])}, {percent(even['pv_over_mean'])} of mean",
        ),
        ("edge over centre (indicative)", ratio(even["edge_over_centre"])),
        ("curve", _tendency(even["curve_tendency"])),
        ("mean removal", f"{MICRON_PER_HOUR * even['mean_rate_m_per_s']:.2f} um/h"),
    ]


def _tendency(value: float) -> str:
    if abs(value) < 0.005:
        return "stays where it is"
    return f"gets {'longer, edge' if value > 0 else 'shorter, centre'} ahead by {abs(value):.1%} of the mean"


def _offsets(offsets: dict[str, Any], say: _Say) -> list[Row]:
    now, best, neutral = offsets["now"], offsets["most_even"], offsets["neutral"]
    lift = offsets["first_lift_m"]
    return [
        ("now", _place(now, say)),
        ("most even", f"{_place(best, say)}, {_move(offsets['move_to_most_even_m'], say)}"),
        (
            "neutral, curve stays",
            f"{_place(neutral, say)}, {_move(offsets['move_to_neutral_m'], say)}" if neutral else "none",
        ),
        ("face lifts from", say.length(lift) if lift is not None else "nowhere"),
    ]


def _place(point: dict[str, Any], say: _Say) -> str:
    return f"{say.length(point['offset_m'])}, scatter {percent(point['cv'])}"


def _move(distance_m: float, say: _Say) -> str:
    if abs(distance_m) < 0.5e-3:
        return "where the post is now"
    far = units.show(abs(distance_m), units.LENGTH, say.system)
    return f"{far} {'outward' if distance_m > 0 else 'inward'} from here"


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


def _stopping(stop: dict[str, Any], say: _Say) -> list[Row]:
    rows = [("planned stop", _stop(stop["planned"], say)), ("stop for a fault", _stop(stop["fault"], say))]
    return [
        *rows,
        ("power cut, lap on", f"{stop['without_power_s']:.1f} s: already a hard stop"),
        ("power cut, no lap", f"{stop['without_power_bare_s']:.0f} s of coasting"),
    ]


def _stop(one: dict[str, Any], say: _Say) -> str:
    return f"{one['time_s']:.1f} s, {one['turns']:.2f} turns; {_push(one['brake_torque_nm'], say)}"


def _push(torque_nm: float, say: _Say) -> str:
    return f"the drive {'brakes' if torque_nm > 0 else 'keeps pushing'} with {say.torque(abs(torque_nm), 1)}"


def _holding(weights: dict[str, Any], hold: dict[str, Any], tilt: dict[str, Any], say: _Say) -> list[Row]:
    loose = weights["highest_rpm"]
    limit = (
        f"{loose:.0f} rpm at {say.length(weights['radius_m'])} from the post"
        if loose is not None
        else "none, on the post"
    )
    safe = "captured" if weights["captured"] else ("hold" if weights["safe_at_work_speed"] else "MAY SLIDE")
    return [
        ("loose weights stay below", limit),
        ("these weights", safe),
        (
            "side force, friction holds",
            f"{say.force(hold['side_force_n'])}, {say.force(hold['friction_holds_n'])}",
        ),
        ("side force if the lap grabs", f"{say.force(hold['side_force_if_grabbing_n'])}: {_cleats(hold)}"),
        (
            "drive point, edge unloads at",
            f"{say.length(tilt['drive_point_height_m'])}, {say.length(tilt['edge_unloads_m'])}",
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


def _curve(curve: dict[str, Any], segment: dict[str, Any], say: _Say) -> list[Row]:
    return [
        (
            "radius, sagitta",
            f"{say.length(curve['radius_m'])}, {say.fine(curve['sagitta_sphere_m'])} (sphere)",
        ),
        ("this segment moves the radius", say.fine(segment["curve_drift_m"], "+")),
    ]
