"""What a set-up will do, in groups of plain numbers: the answer of `benchctl plan`. SI; None: not finite."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from typing import Any

from benchctl.errors import BadInput
from benchctl.models.job import Job
from benchctl.physics.case import Case
from benchctl.physics.contact import Contact
from benchctl.physics.evenness import zone_bounds_m
from benchctl.physics.pressure import Pressure, lowest_pressure
from benchctl.physics.solve import Steady, answer, steady_state
from benchctl.planner import bench_sums
from benchctl.planner.case_of import case_of, in_job_words, moved
from benchctl.planner.lag import CAUSES, lag_effect, with_drag
from benchctl.planner.sweet_spot import (
    BestOffsets,
    OffsetPoint,
    at_offset,
    best_offsets,
    sweep_around,
    turning_of,
)

INDICATIVE_WITHIN = 0.04
"""Within this share of the mirror's radius of the rim a figure is indicative: pitch is no bed of springs."""
MILLIMETRE = 1e-3
LAGS = (1.0, 0.9, 0.8, 0.0)


def make_plan(job: Job) -> dict[str, Any]:
    """All groups of the plan. BadInput names the field of the job file that cannot be."""
    return in_job_words(lambda: _groups(job, case_of(job)))


def _groups(job: Job, case: Case) -> dict[str, Any]:
    steady, solved = _standing(case), answer(case)
    here, best = at_offset(case, case.contact.post_offset_m), best_offsets(case)
    plan = {
        "setup": _setup(job),
        "pressure": _pressure(job, case, steady.pressure),
        "overhang": _overhang(case.contact, solved),
        "spin": _spin(job, steady),
        "table": _table(solved, steady, case),
        "evenness": _evenness(case, solved, here),
        "offsets": _offsets(case, here, best),
        "lag": [_lag(case, ratio, here) for ratio in LAGS],
        "segment": bench_sums.segment(job, solved, here.curve_tendency),
        "progress": bench_sums.progress(job, solved),
        "stopping": bench_sums.stopping(job, solved),
        "weights": bench_sums.weights(job, steady.spin_ratio),
        "hold": bench_sums.hold(job, solved),
        "tilt": bench_sums.tilt(job),
        "water": bench_sums.water(job),
        "heat": bench_sums.heat(job, solved),
        "curve": bench_sums.curve(job),
    }
    plan["warnings"] = warnings_of(plan)
    return plan


def _standing(case: Case) -> Steady:
    """The steady state. A lap that would topple with its drive point on the face is told so by its offset."""
    try:
        return steady_state(case)
    except BadInput:
        steady_state(replace(case, pivot_height_m=0.0))
        raise


def _setup(job: Job) -> dict[str, Any]:
    return {
        "mirror": job.mirror.name,
        "lap": job.lap.name,
        "mirror_radius_m": job.mirror.radius_m,
        "hole_radius_m": job.mirror.hole_radius_m,
        "lap_radius_m": job.lap.radius_m,
        "post_offset_m": job.setup.post_offset_m,
        "load_n": job.load_n,
        "friction": job.setup.friction,
        "preston_per_pa": job.preston_per_pa,
        "work_rpm": job.segment.work_rpm,
        "rubbing_speed_m_s": job.segment.work_rpm * math.pi / 30 * job.setup.post_offset_m,
    }


def _pressure(job: Job, case: Case, pressure: Pressure) -> dict[str, Any]:
    """Nominal: load over the lap's whole area. On the facets: over the land that lies on glass. At the edge:
    on the facets at the mirror's rim, farthest from its centre. Peak: on the facets, wherever it is most."""
    contact, land = case.contact, job.lap.land_fraction
    at_rim = contact.mirror_radius_m - contact.post_offset_m
    rim = min(at_rim, contact.lap_radius_m)
    return {
        "nominal_pa": case.load_n / (math.pi * contact.lap_radius_m**2),
        "on_facets_pa": case.load_n / (contact.area_m2 * land),
        "at_edge_pa": max(0.0, pressure.a + pressure.b * rim) / land,
        "peak_pa": _peak(contact, pressure) / land,
        "least_pa": max(0.0, pressure.lowest_pa) / land,
        "land_fraction": land,
        "face_lifts": pressure.lifted,
    }


def _peak(contact: Contact, pressure: Pressure) -> float:
    return -lowest_pressure(contact, -pressure.a, -pressure.b, -pressure.c)


def _overhang(contact: Contact, solved: dict[str, Any]) -> dict[str, Any]:
    reach = contact.post_offset_m + contact.lap_radius_m - contact.mirror_radius_m
    return {
        "overhang_m": reach,
        "of_mirror_diameter": reach / (2 * contact.mirror_radius_m),
        "of_lap_area": solved["overhang_fraction"],
        "contact_area_m2": solved["contact_area_m2"],
    }


def _spin(job: Job, steady: Steady) -> dict[str, Any]:
    return {
        "predicted_ratio": steady.spin_ratio,
        "stalled": steady.stalled,
        "lap_rpm": steady.spin_ratio * job.segment.work_rpm,
        "post_drag_nm": job.setup.post_drag_nm,
        "stall_torque_nm": steady.stall_torque_nm,
        "causes_of_lag": list(CAUSES),
    }


def _table(solved: dict[str, Any], steady: Steady, case: Case) -> dict[str, Any]:
    stopped = answer(with_drag(case, abs(steady.stall_torque_nm)))
    torque, held = solved["table_torque_nm"], stopped["table_torque_nm"]
    return {
        "torque_nm": torque,
        "friction_power_w": solved["friction_power_w"],
        "power_w": torque * case.table_rad_s,
        "torque_if_lap_stops_nm": held,
        "rise_if_lap_stops": held / torque - 1.0 if torque > 0.0 else None,
        "edge_over_centre_if_lap_stops": stopped["edge_over_centre"],
    }


def _evenness(case: Case, solved: dict[str, Any], here: OffsetPoint) -> dict[str, Any]:
    bounds = zone_bounds_m(case.contact)
    zones = [
        {"inner_m": a, "outer_m": b, "rate_m_per_s": rate, "of_mean": share}
        for a, b, rate, share in zip(
            bounds, bounds[1:], solved["zone_rates_m_per_s"], here.zone_shares, strict=False
        )
    ]
    return {
        "cv": solved["evenness_cv"],
        "pv_over_mean": solved["evenness_pv"],
        "edge_over_centre": solved["edge_over_centre"],
        "curve_tendency": here.curve_tendency,
        "mean_rate_m_per_s": solved["mean_rate_m_per_s"],
        "zones": zones,
        "radii_m": solved["radii_m"],
        "removal_rate_m_per_s": solved["removal_rate_m_per_s"],
        "indicative_beyond_m": (1 - INDICATIVE_WITHIN) * case.contact.mirror_radius_m,
    }


def _offsets(case: Case, here: OffsetPoint, best: BestOffsets) -> dict[str, Any]:
    neutral = best.neutral
    return {
        "now": asdict(here),
        "most_even": asdict(best.most_even),
        "neutral": None if neutral is None else asdict(neutral),
        "move_to_most_even_m": best.most_even.offset_m - here.offset_m,
        "move_to_neutral_m": None if neutral is None else neutral.offset_m - here.offset_m,
        "first_lift_m": best.first_lift_m,
        "per_mm_outward": _per_mm(case, here),
        "most_even_removal_rate_m_per_s": _profile(moved(case, best.most_even.offset_m)),
        "sweep": [asdict(point) for point in sweep_around(case, best.most_even.offset_m)],
    }


def _profile(case: Case) -> list[float]:
    """Removal at the case's radii, m/s."""
    rates: list[float] = turning_of(case, steady_state(case)).rate(case.radii_m).tolist()
    return rates


def _per_mm(case: Case, here: OffsetPoint) -> dict[str, Any]:
    """Changes for the post 1 mm farther out: half a millimetre either way, or what is left at 0."""
    low = at_offset(case, max(0.0, here.offset_m - MILLIMETRE / 2))
    high = at_offset(case, low.offset_m + MILLIMETRE)
    return {
        "edge_over_centre": _less(high.edge_over_centre, low.edge_over_centre),
        "curve_tendency": high.curve_tendency - low.curve_tendency,
        "cv": _less(high.cv, low.cv),
        "inner_zone": high.zone_shares[0] - low.zone_shares[0],
        "outer_zone": high.zone_shares[-1] - low.zone_shares[-1],
        "spin_ratio": high.spin_ratio - low.spin_ratio,
    }


def _less(high: float | None, low: float | None) -> float | None:
    return None if high is None or low is None else high - low


def _lag(case: Case, ratio: float, here: OffsetPoint) -> dict[str, Any]:
    effect = lag_effect(case, ratio)
    mean = here.mean_rate_m_per_s
    return asdict(effect) | {"mean_rate_over_now": effect.mean_rate_m_per_s / mean if mean > 0.0 else None}


def warnings_of(plan: dict[str, Any]) -> list[str]:
    """What a person should know before starting, a sentence each."""
    weights, hold, tilt, water = plan["weights"], plan["hold"], plan["tilt"], plan["water"]
    dry = water["dry_in_s"]
    found = (
        (plan["spin"]["stalled"], "The drag at the post stalls the lap: free its bearing before starting."),
        (
            plan["pressure"]["face_lifts"],
            "Part of the lap's face lifts off the glass: move the post inward or lower the drive point.",
        ),
        (
            not weights["captured"] and not weights["safe_at_work_speed"],
            "Loose weights may slide at the work speed or in a stop from it: capture them or turn slower.",
        ),
        (
            hold["cleats_needed"] and not hold["cleats"],
            "Friction alone may not hold the mirror if the lap grabs: fit cleats.",
        ),
        (
            tilt["drive_point_height_m"] > tilt["edge_unloads_m"],
            "The drive point is so high that the trailing edge of the lap carries nothing: lower it.",
        ),
        (
            dry is not None and water["rewet_every_s"] > dry / 2,
            "The film may be more than half dry before the next wetting: wet more often.",
        ),
    )
    return [words for holds, words in found if holds]
