"""The plan's sums beside the contact: depth, progress, stopping, weights, hold, tilt, water, heat, curve."""

from __future__ import annotations

import math
from typing import Any

from benchctl.models.job import Job
from benchctl.physics import bodies, drying
from benchctl.physics import heat as warming
from benchctl.physics import stopping as halt

MICRON = 1e-6
PITS_PER_GRAIN = 1.2
"""Median of the deepest pits over the size of the last abrasive (judgement, from published damage depths)."""
PITS_FACTOR = 1.45
PRESTON_FACTOR = 2.0
"""How far the Preston coefficient may be off, either way, until the own log says better (judgement)."""
PLANNED_STOP_RAD_S2, FAULT_STOP_RAD_S2 = 1.0, 2.0
BARE_DRAG_NM = 0.5
"""Bearing drag of a bare table (judgement)."""
DRAG_FRICTION = 1.0
"""Friction coefficient of a lap that grabs (judgement)."""
SUPPORT_OF_RADIUS = 0.7
"""Where the mirror's pads stand, as a share of its radius (common practice, no source)."""
FILM_RANGE_M = (20e-6, 100e-6)


def segment(job: Job, solved: dict[str, Any], curve_tendency: float) -> dict[str, Any]:
    """Depth and turns of a segment, all of it taken at the work speed.

    `curve_tendency`: of `sweet_spot.OffsetPoint`; what it makes of the radius of curvature in one segment.
    """
    mirror = job.mirror
    ring = mirror.radius_m**2 / (mirror.radius_m**2 - mirror.hole_radius_m**2)
    length, mean = job.segment.length_s, solved["mean_rate_m_per_s"]
    turns = job.segment.work_rpm * length / 60
    depth = mean * length
    return {
        "length_s": length,
        "turns": turns,
        "depth_m": depth,
        "zone_depths_m": [rate * length for rate in solved["zone_rates_m_per_s"]],
        "depth_per_turn_m": depth / turns,
        "turns_per_micron": MICRON * turns / depth if depth > 0.0 else None,
        "hours_per_micron": MICRON / mean / 3600 if mean > 0.0 else None,
        "curve_drift_m": bodies.curve_drift_m(
            mirror.curve_radius_m, mirror.radius_m, curve_tendency * depth * ring
        ),
    }


def progress(job: Job, solved: dict[str, Any]) -> dict[str, Any]:
    """Segments from fresh grinding to clear, as a range: the slowest zone decides.

    Pits 1.2 times the last abrasive deep, give or take a factor 1.45; the coefficient a factor 2 either way;
    the factors taken as independent (root of the sum of squared logarithms).
    """
    depth = PITS_PER_GRAIN * job.mirror.last_abrasive_m
    slowest = min(solved["zone_rates_m_per_s"]) * job.segment.length_s
    factor = math.exp(math.hypot(math.log(PITS_FACTOR), math.log(PRESTON_FACTOR)))
    likely = depth / slowest if slowest > 0.0 else None
    return {
        "depth_to_remove_m": depth,
        "slowest_zone": 1 + solved["zone_rates_m_per_s"].index(min(solved["zone_rates_m_per_s"])),
        "segments_low": _up(likely, 1 / factor),
        "segments_likely": _up(likely, 1.0),
        "segments_high": _up(likely, factor),
        "hours_likely": likely * job.segment.length_s / 3600 if likely is not None else None,
        "from": "fresh grinding, first guess of the coefficient; the logbook's counts of pits say better",
    }


def _up(count: float | None, factor: float) -> int | None:
    return None if count is None else math.ceil(count * factor)


def mirror_kg(job: Job) -> float:
    """Mass of the mirror, kg."""
    mirror = job.mirror
    return bodies.mirror_mass_kg(
        mirror.glass_data.density_kg_m3,
        mirror.radius_m,
        mirror.edge_thickness_m,
        mirror.curve_radius_m,
        mirror.hole_radius_m,
    )


def turning_inertia(job: Job) -> float:
    """Moment of inertia of table and mirror, kg m2."""
    mirror, table = job.mirror, job.table
    glass = bodies.disc_inertia_kg_m2(mirror_kg(job), mirror.radius_m, mirror.hole_radius_m)
    return glass + bodies.disc_inertia_kg_m2(table.mass_kg, table.diameter_m / 2)


def lap_inertia(job: Job) -> float:
    """Moment of inertia of lap and weights about the post, kg m2."""
    lap, setup = job.lap, job.setup
    body = bodies.disc_inertia_kg_m2(lap.mass_kg, lap.radius_m)
    return body + sum(bodies.weights_inertia_kg_m2([one.mass_kg], one.radius_m) for one in setup.pieces)


def stopping(job: Job, solved: dict[str, Any]) -> dict[str, Any]:
    """Energy, stopping time, turns and torque from the work speed."""
    inertia, speed, drag = turning_inertia(job), _speed(job), solved["table_torque_nm"]
    whole = inertia + lap_inertia(job)
    coast = halt.coast_slowing_rad_s2(whole, drag + BARE_DRAG_NM)
    return {
        "mirror_kg": mirror_kg(job),
        "table_inertia_kg_m2": inertia,
        "lap_inertia_kg_m2": lap_inertia(job),
        "energy_j": halt.turning_energy_j(whole, speed),
        "planned": _stop(whole, speed, PLANNED_STOP_RAD_S2, drag),
        "fault": _stop(whole, speed, FAULT_STOP_RAD_S2, drag),
        "without_power_s": halt.stop_time_s(speed, coast),
        "without_power_bare_s": halt.stop_time_s(speed, halt.coast_slowing_rad_s2(inertia, BARE_DRAG_NM)),
    }


def _stop(inertia: float, speed: float, slowing: float, drag: float) -> dict[str, float]:
    return {
        "slowing_rad_s2": slowing,
        "time_s": halt.stop_time_s(speed, slowing),
        "turns": halt.stop_turns(speed, slowing),
        "brake_torque_nm": halt.brake_torque_nm(inertia, slowing, drag),
    }


def weights(job: Job, spin_ratio: float) -> dict[str, Any]:
    """Loose weights: the highest speed at which they stay put. A lap that is let go reaches the table's."""
    setup = job.setup
    radius = setup.loose_radius_m
    highest = halt.loose_weight_rpm(radius)
    top = job.segment.work_rpm * max(1.0, abs(spin_ratio))
    slowing = halt.loose_weight_slowing_rad_s2(top * math.pi / 30, radius) if radius > 0.0 else None
    return {
        "captured": setup.weights_captured,
        "radius_m": radius,
        "friction": halt.WEIGHT_FRICTION,
        "safety_factor": halt.SAFETY_FACTOR,
        "highest_rpm": highest if math.isfinite(highest) else None,
        "slowing_left_rad_s2": slowing,
        "safe_at_work_speed": top <= highest and (slowing is None or slowing >= FAULT_STOP_RAD_S2),
    }


def hold(job: Job, solved: dict[str, Any]) -> dict[str, Any]:
    """Side force on mirror and post against what friction under the mirror holds."""
    on_top = job.lap.mass_kg + job.setup.weight_kg
    holds, grabbing = halt.mirror_hold_n(mirror_kg(job), on_top), DRAG_FRICTION * job.load_n
    support = SUPPORT_OF_RADIUS * job.mirror.radius_m
    twist = None if job.setup.cleats else holds * support
    return {
        "cleats": job.setup.cleats,
        "side_force_n": solved["post_force_n"],
        "side_force_if_grabbing_n": grabbing,
        "friction_holds_n": holds,
        "friction_holds_in_use": solved["post_force_n"] <= holds,
        "cleats_needed": max(solved["post_force_n"], grabbing) > holds,
        "hardest_slowing_rad_s2": halt.mirror_hold_slowing_rad_s2(
            holds, support, solved["table_torque_nm"], turning_inertia(job)
        ),
        "motor_torque_limit_nm": _motor_limit(solved["table_torque_nm"], twist),
    }


def _motor_limit(torque: float, twist: float | None) -> float | None:
    """The post's rating is not in the job file, so it does not limit here; None where nothing turns."""
    return halt.motor_torque_limit_nm(torque, 1.0, None, twist) if torque > 0.0 else None


def tilt(job: Job) -> dict[str, Any]:
    """How high the drive point may be before the lap's trailing edge lifts, and before it tips."""
    radius, friction = job.lap.radius_m, job.setup.friction
    return {
        "drive_point_height_m": job.lap.drive_point_height_m,
        "edge_unloads_m": halt.edge_unloads_height_m(radius, friction),
        "tips_m": halt.lap_tips_height_m(radius, friction),
    }


def water(job: Job) -> dict[str, Any]:
    """Time to dry, from the room's air or the rim's own speed, whichever is faster."""
    room = job.room
    rim = _speed(job) * job.mirror.radius_m
    rate = drying.evaporation_kg_m2_s(room.temperature_c, room.humidity, max(room.draught_m_s, rim))
    return {
        "air_speed_m_s": max(room.draught_m_s, rim),
        "evaporation_kg_m2_s": rate,
        "film_m": room.film_m,
        "dry_in_s": drying.time_to_dry_s(room.film_m, rate),
        "dry_in_range_s": [drying.time_to_dry_s(film, rate) for film in FILM_RANGE_M],
        "rewet_every_s": job.segment.rewet_every_s,
    }


def heat(job: Job, solved: dict[str, Any]) -> dict[str, Any]:
    """Warming and bow in one segment, upper bounds, and how long to wait before a figure is measured."""
    mirror, data = job.mirror, job.mirror.glass_data
    power, seconds = solved["friction_power_w"], job.segment.length_s
    flux = power / (math.pi * (mirror.radius_m**2 - mirror.hole_radius_m**2))
    properties = (data.conductivity_w_m_k, data.density_kg_m3, data.heat_capacity_j_kg_k)
    face = warming.face_rise_k(flux, seconds, *properties)
    diffusivity = data.conductivity_w_m_k / (data.density_kg_m3 * data.heat_capacity_j_kg_k)
    return {
        "friction_power_w": power,
        "flux_w_m2": flux,
        "evaporation_w_m2": warming.evaporation_cooling_w_m2(water(job)["evaporation_kg_m2_s"]),
        "body_rise_k": warming.body_rise_k(power, seconds, mirror_kg(job), data.heat_capacity_j_kg_k),
        "face_rise_k": face,
        "bow_m": warming.bow_m(data.expansion_per_k, face, mirror.radius_m, mirror.edge_thickness_m),
        "face_to_back_s": warming.face_to_back_time_s(mirror.edge_thickness_m, diffusivity),
        "with_room_s": warming.room_time_s(mirror.edge_thickness_m, properties[1], properties[2]),
    }


def curve(job: Job) -> dict[str, Any]:
    """Depth of the curve, and how far its radius moves for a micron more at the edge."""
    mirror = job.mirror
    diameter, radius = 2 * mirror.radius_m, mirror.curve_radius_m
    return {
        "radius_m": radius,
        "sagitta_sphere_m": bodies.sagitta_sphere_m(radius, diameter),
        "sagitta_parabola_m": bodies.sagitta_parabola_m(radius, diameter),
        "drift_per_micron_m": bodies.curve_drift_m(radius, mirror.radius_m, MICRON),
    }


def _speed(job: Job) -> float:
    return halt.rad_per_s(job.segment.work_rpm)
