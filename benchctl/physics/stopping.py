"""Stopping, loose weights, cleats and tilt: what holds, and at which speed it no longer does. SI.

Rigid bodies and Coulomb friction (derived for this project; a two-body simulation with 400 contact points
agreed within 2 % on drag and stopping times). Friction coefficients of wet bench things are start values:
published tables spread widely, so `friction_from_tilt` measures one's own. Nothing here is a safety rating.
"""

from __future__ import annotations

import math

from benchctl.errors import BadInput
from benchctl.physics.checks import finite, not_negative, positive

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall (ISO 80000-3; exact by convention)."""
SAFETY_FACTOR = 1.5
"""Held back from every friction that has to hold something (a choice)."""
WEIGHT_FRICTION = 0.25
"""Weights on a wet plaster, wood or metal back (from memory and tables that spread widely)."""
SUPPORT_FRICTION = 0.35
"""Mirror on wet rubber or carpet pads (from memory)."""
MOTOR_MARGIN = 2.5
"""Torque limit over ordinary drag (a choice)."""


def rad_per_s(rpm: float) -> float:
    """Turning speed in rad/s, 2 pi rpm/60."""
    return finite("rpm", rpm) * 2 * math.pi / 60


def turning_energy_j(inertia_kg_m2: float, speed_rad_s: float) -> float:
    """Kinetic energy J w^2/2, joules."""
    return positive("inertia_kg_m2", inertia_kg_m2) * finite("speed_rad_s", speed_rad_s) ** 2 / 2


def stop_time_s(speed_rad_s: float, slowing_rad_s2: float) -> float:
    """Time to stop at a steady slowing, w/alpha, seconds."""
    return not_negative("speed_rad_s", speed_rad_s) / positive("slowing_rad_s2", slowing_rad_s2)


def stop_turns(speed_rad_s: float, slowing_rad_s2: float) -> float:
    """Turns made while stopping at a steady slowing, w^2/(4 pi alpha)."""
    slowing = positive("slowing_rad_s2", slowing_rad_s2)
    return not_negative("speed_rad_s", speed_rad_s) ** 2 / (4 * math.pi * slowing)


def brake_torque_nm(inertia_kg_m2: float, slowing_rad_s2: float, drag_nm: float) -> float:
    """Torque the drive must brake with, J alpha less the drag, N m; below 0 it must keep pushing."""
    needed = positive("inertia_kg_m2", inertia_kg_m2) * positive("slowing_rad_s2", slowing_rad_s2)
    return needed - not_negative("drag_nm", drag_nm)


def coast_slowing_rad_s2(inertia_kg_m2: float, drag_nm: float) -> float:
    """Slowing without power, drag/J, rad/s2: hard with the lap on, hardly any without it."""
    return not_negative("drag_nm", drag_nm) / positive("inertia_kg_m2", inertia_kg_m2)


def greatest_drag_nm(friction: float, load_n: float, post_offset_m: float, lap_radius_m: float) -> float:
    """Upper bound of the table's drag, whatever the lap does: mu W sqrt(e^2 + Rl^2/2), N m.

    In step it is mu W e. Turned any other way it cannot pass mu W times the mean distance of the load from
    the table's axis, and a mean is at most the root of the mean square (Jensen; derived). Even pressure, lap
    wholly on the glass; the larger of e and 2/3 Rl, a common short cut, is passed by up to 32 %.
    """
    force = positive("friction", friction) * not_negative("load_n", load_n)
    offset, lap = not_negative("post_offset_m", post_offset_m), positive("lap_radius_m", lap_radius_m)
    return force * math.sqrt(offset * offset + lap * lap / 2)


def loose_weight_rpm(
    radius_m: float, friction: float = WEIGHT_FRICTION, safety: float = SAFETY_FACTOR
) -> float:
    """Highest lap speed (rpm) at which a loose weight `radius_m` from the post stays put.

    60/(2 pi) sqrt(mu g/(SF r)); infinite for a weight centred on the post. Take the larger of lap and table
    speed: a lap that is let go may reach the table's.
    """
    radius = not_negative("radius_m", radius_m)
    if radius == 0.0:
        return math.inf
    return 30 / math.pi * math.sqrt(_grip(friction, safety) / radius)


def loose_weight_slowing_rad_s2(
    lap_rad_s: float, radius_m: float, friction: float = WEIGHT_FRICTION, safety: float = SAFETY_FACTOR
) -> float:
    """Hardest slowing (rad/s2) a loose weight bears at a lap speed: sqrt((mu g/(SF r))^2 - w^4), or 0.

    The friction has to give w^2 r inward and alpha r along the turn at once.
    """
    radius = positive("radius_m", radius_m)
    spare = (_grip(friction, safety) / radius) ** 2 - finite("lap_rad_s", lap_rad_s) ** 4
    return math.sqrt(spare) if spare > 0.0 else 0.0


def mirror_hold_n(
    mirror_kg: float, on_top_kg: float, friction: float = SUPPORT_FRICTION, safety: float = SAFETY_FACTOR
) -> float:
    """Side force (N) that friction under the mirror holds, mu (M + m) g/SF; more needs cleats."""
    return _grip(friction, safety) * (positive("mirror_kg", mirror_kg) + not_negative("on_top_kg", on_top_kg))


def mirror_hold_slowing_rad_s2(
    hold_n: float, support_radius_m: float, drag_nm: float, inertia_kg_m2: float
) -> float:
    """Hardest slowing (rad/s2) at which the mirror does not twist on its supports.

    (hold r_s - drag)/J, where the drag of the lap already pulls the same way; 0 where nothing is left.
    """
    left = not_negative("hold_n", hold_n) * positive("support_radius_m", support_radius_m)
    return max(0.0, left - not_negative("drag_nm", drag_nm)) / positive("inertia_kg_m2", inertia_kg_m2)


def edge_unloads_height_m(lap_radius_m: float, friction: float) -> float:
    """Height of the drive point above the face at which the lap's trailing edge carries nothing, Rl/(4 mu).

    Full contact, linear pressure: the side where glass runs in gains 4 mu h/Rl of
    the mean pressure, the other side loses it.
    """
    return positive("lap_radius_m", lap_radius_m) / (4 * positive("friction", friction))


def lap_tips_height_m(lap_radius_m: float, friction: float) -> float:
    """Height of the drive point at which the lap goes over its leading edge, Rl/mu."""
    return positive("lap_radius_m", lap_radius_m) / positive("friction", friction)


def motor_torque_limit_nm(
    usual_drag_nm: float, post_offset_m: float, post_rating_n: float | None, twist_hold_nm: float | None
) -> float:
    """Torque to which the drive should be limited, N m: the least of what post, mirror and drag allow.

    2.5 times the ordinary drag; the post's rated side force times the offset; what holds the mirror from
    twisting on its supports. None for what does not limit.
    """
    limits = [MOTOR_MARGIN * positive("usual_drag_nm", usual_drag_nm)]
    if post_rating_n is not None:
        limits.append(positive("post_rating_n", post_rating_n) * positive("post_offset_m", post_offset_m))
    if twist_hold_nm is not None:
        limits.append(positive("twist_hold_nm", twist_hold_nm))
    return min(limits)


def friction_from_tilt(slip_angle_deg: float) -> float:
    """Friction coefficient from the slope where a weight begins to slide, tan(angle); 14 degrees: 0.25."""
    angle = positive("slip_angle_deg", slip_angle_deg)
    if angle >= 80.0:
        raise BadInput(f"slip_angle_deg: {angle:g} must be less than 80; measure the board's slope again")
    return math.tan(math.radians(angle))


def _grip(friction: float, safety: float) -> float:
    """Acceleration that friction can give, m/s2, with the safety factor taken off."""
    return positive("friction", friction) * GRAVITY_M_S2 / positive("safety", safety)
