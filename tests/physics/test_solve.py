"""Whole solves: worked cases, a slow solver of its own, invariants, limits, refusals."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchctl.errors import BadInput
from benchctl.physics.solve import solve_contact
from tests.physics.cases import WORKED, balanced_geometries, case
from tests.physics.slow_solver import SlowContact, slow_friction, slow_rate, slow_solve


@pytest.mark.parametrize("worked", WORKED["cases"], ids=lambda worked: worked["name"])
def test_worked_cases_come_out_within_their_tolerances(worked: dict[str, Any]) -> None:
    """Twelve contacts solved by an independent solver agree within the tolerances stated with them."""
    found, tolerances = solve_contact(worked["input"]), WORKED["tolerances_relative"]
    for key, expected in worked["output"].items():
        if expected is None or isinstance(expected, bool):
            assert found[key] is expected, key
            continue
        size = float(np.abs(expected).max())
        assert found[key] == pytest.approx(
            expected, rel=tolerances.get(key, 1e-9), abs=1e-12 * size + 1e-15
        ), key


TRIED = {
    "hole_tilt_drag": case(pivot_height_m=0.045, post_drag_nm=0.31),
    "lap_larger_than_mirror": case(lap_radius_m=0.3, post_offset_m=0.1, post_drag_nm=2.0),
    "centre_over_hole": case(hole_radius_m=0.1, lap_radius_m=0.2, post_offset_m=0.05, post_drag_nm=1.0),
    "lifted_and_tilted": case(post_offset_m=0.16, pivot_height_m=0.06, post_drag_nm=0.5),
    "tilted_past_lifting": case(lap_radius_m=0.12, post_offset_m=0.09, pivot_height_m=0.2, post_drag_nm=1.0),
    "slip_centre_inside": case(post_offset_m=0.01, post_drag_nm=7.0),
    "viscous_drag": case(post_drag_viscous_nm_s=0.8),
    "leading_over_a_hole": case(pressure_law="uniform", hole_radius_m=0.1, post_offset_m=0.03),
    "counter_rotating": case(pressure_law="uniform", lap_radius_m=0.1, post_offset_m=0.27, post_drag_nm=0.1),
    "film_past_the_rim": case(
        pressure_law="uniform", friction_law="film", film_rate=150.0, post_offset_m=0.26, post_drag_nm=0.02
    ),
    "wetted_tilted": case(friction_law="wetted", film_rate=0.8, pivot_height_m=0.03, post_drag_nm=0.4),
    "wetted_lifted": case(friction_law="wetted", film_rate=0.8, post_offset_m=0.17, post_drag_nm=0.1),
    "stalled_and_tilted": case(pivot_height_m=0.05, post_drag_nm=20.0),
}


QUICK = [name for name in TRIED if name not in ("lifted_and_tilted", "tilted_past_lifting")]


@pytest.mark.parametrize("name", QUICK)
def test_fast_and_slow_solver_agree(name: str) -> None:
    """Ratio to 1e-8, torques, heat, pressure and rates to 1e-7 of what the slow solver finds."""
    given_case = {"pressure_law": "no_tension", "friction_law": "coulomb"} | TRIED[name]
    found, slow = solve_contact(given_case), slow_solve(given_case)
    assert found["spin_ratio"] == pytest.approx(slow["spin_ratio"], abs=1e-8)
    assert (found["stalled"], found["face_lifted"]) == (slow["stalled"], slow["face_lifted"])
    for key in ("stall_torque_nm", "table_torque_nm", "friction_power_w", "post_force_n"):
        assert found[key] == pytest.approx(slow[key], rel=1e-7, abs=1e-9), key
    a, b, c = slow["pressure_coefficients"]
    size = given_case["lap_radius_m"]
    expected = np.array([a, b * size, c * size])
    ours = np.array(found["pressure_coefficients"]) * [1.0, size, size]
    assert ours == pytest.approx(expected, abs=1e-7 * np.abs(expected).max())
    rates = found["removal_rate_m_per_s"]
    for i in (0, 9, 23, 37, 40):
        radius = found["radii_m"][i]
        slow_one = slow_rate(
            given_case, slow["pressure_coefficients"], slow["face_lifted"], slow["spin_ratio"], radius
        )
        assert rates[i] == pytest.approx(slow_one, abs=1e-8 * max(rates))


@pytest.mark.parametrize("name", TRIED)
def test_the_slow_integrals_balance_at_the_answer(name: str) -> None:
    """Load, centre of pressure against the pivot, and torque against drag balance by the slow quadrature."""
    tried = {"friction_law": "coulomb", "pivot_height_m": 0.0, "post_drag_nm": 0.0} | TRIED[name]
    if tried["friction_law"] != "coulomb" or tried.get("pressure_law") == "uniform":
        return
    found, size, load = solve_contact(tried), tried["lap_radius_m"], tried["load_n"]
    a, b, c = found["pressure_coefficients"]
    plane = np.array([a * size**2, b * size**3, c * size**3]) / load
    contact = SlowContact(tried)
    cut = (plane[0], plane[1], plane[2]) if found["face_lifted"] else None

    def carried(x: np.ndarray, y: np.ndarray, _: np.ndarray) -> np.ndarray:
        p = plane[0] + plane[1] * x + plane[2] * y
        return np.array([p, p * x, p * y])

    torque, force_x, force_y, _ = 0.4 * slow_friction(
        contact, plane, found["face_lifted"], 1.0, found["spin_ratio"]
    )
    height = tried["pivot_height_m"] / size
    assert contact.integral(carried, 0.0, cut) == pytest.approx(
        np.array([1.0, -height * force_x, -height * force_y]), abs=1e-8
    )
    drag = tried["post_drag_nm"] + tried.get("post_drag_viscous_nm_s", 0.0) * 2.7 * found["spin_ratio"]
    if not found["stalled"]:
        assert torque * load * size == pytest.approx(drag, abs=1e-7)


def test_names_of_the_tried_cases_say_what_they_are() -> None:
    """The cases above do lag, lead, turn back, lift, stall and put the slip centre inside, as named."""
    found = {name: solve_contact(given_case) for name, given_case in TRIED.items()}
    assert found["leading_over_a_hole"]["spin_ratio"] > 1.0
    assert found["counter_rotating"]["spin_ratio"] < 0.0
    assert found["film_past_the_rim"]["spin_ratio"] < 0.0
    assert found["stalled_and_tilted"]["stalled"]
    assert all(
        found[name]["face_lifted"] for name in ("lifted_and_tilted", "tilted_past_lifting", "wetted_lifted")
    )
    inside = TRIED["slip_centre_inside"]
    ratio = found["slip_centre_inside"]["spin_ratio"]
    assert inside["post_offset_m"] / (1 - ratio) < inside["lap_radius_m"]


@settings(max_examples=15)
@given(balanced_geometries(), st.floats(0.0, 0.9))
def test_scores_agree_with_a_fine_look_over_the_mirror(size: dict[str, float], share: float) -> None:
    """CV, PV, zone means and volume agree with 20 000 radii of the same profile."""
    scale = 0.4 * 189.0 * size["lap_radius_m"]
    found = solve_contact(case(**size, post_drag_nm=share * 0.3 * scale, pressure_law="uniform"))
    low, high = size["hole_radius_m"], size["mirror_radius_m"]
    edges = np.linspace(low, high, 20001)
    middles = (edges[:-1] + edges[1:]) / 2
    fine = solve_contact(
        case(
            **size,
            post_drag_nm=share * 0.3 * scale,
            pressure_law="uniform",
            radii_m=middles.tolist(),
        )
    )
    rates, area = np.array(fine["removal_rate_m_per_s"]), np.diff(edges**2) * math.pi
    mean = float(rates @ area / area.sum())
    assert found["mean_rate_m_per_s"] == pytest.approx(mean, rel=1e-5)
    scatter = math.sqrt(float((rates - mean) ** 2 @ area / area.sum()))
    assert found["evenness_cv"] == pytest.approx(scatter / mean, rel=1e-4, abs=1e-5)
    assert found["evenness_pv"] >= (rates.max() - rates.min()) / mean * (1 - 1e-3) - 1e-9
    by_zone = [
        part @ weight / weight.sum()
        for part, weight in zip(rates.reshape(5, -1), area.reshape(5, -1), strict=True)
    ]
    assert found["zone_rates_m_per_s"] == pytest.approx(by_zone, rel=1e-4, abs=3e-4 * mean)


@given(balanced_geometries(), st.floats(1.0, 500.0), st.floats(0.1, 6.0))
@settings(max_examples=40)
def test_in_step_the_volume_rate_is_preston_load_speed_offset(
    size: dict[str, float], load_n: float, speed: float
) -> None:
    """Volume rate = k W Omega e in step, whatever lap, hole or lifting (Preston 1927, from memory)."""
    found = solve_contact(case(**size, load_n=load_n, table_speed_rad_per_s=speed))
    expected = 6e-13 * load_n * speed * size["post_offset_m"]
    assert found["volume_rate_m3_per_s"] == pytest.approx(expected, rel=1e-8)
    ring = math.pi * (size["mirror_radius_m"] ** 2 - size["hole_radius_m"] ** 2)
    assert found["mean_rate_m_per_s"] == pytest.approx(expected / ring, rel=1e-8)


@given(balanced_geometries(), st.floats(0.0, 0.3), st.floats(0.0, 0.1))
@settings(max_examples=40)
def test_power_put_in_is_heat_and_drag(size: dict[str, float], drag: float, viscous: float) -> None:
    """Table torque times table speed = heat + drag torque times lap speed, with or without a stall."""
    scale = 0.4 * 189.0 * size["lap_radius_m"]
    given_case = case(**size, post_drag_nm=drag * scale, post_drag_viscous_nm_s=viscous * scale)
    found = solve_contact(given_case)
    lap = 2.7 * found["spin_ratio"]
    lost = (drag + viscous * lap) * scale * lap
    assert found["table_torque_nm"] * 2.7 == pytest.approx(found["friction_power_w"] + lost, rel=1e-8)


def test_a_linear_pressure_that_pulls_is_flagged_and_the_right_law_lifts() -> None:
    """The linear law below 0 carries a warning; without tension the face lifts and says so."""
    linear, right = (
        solve_contact(case(post_offset_m=0.17, pressure_law=law)) for law in ("linear", "no_tension")
    )
    assert linear["pressure_min_pa"] < 0.0
    assert "no_tension" in linear["warnings"][0]
    assert right["face_lifted"]
    assert min(right["removal_rate_m_per_s"]) >= 0.0


@pytest.mark.parametrize("quiet", [{"load_n": 0.0}, {"table_speed_rad_per_s": 0.0}, {"preston_per_pa": 0.0}])
def test_no_load_no_speed_or_no_wear_removes_nothing(quiet: dict[str, float]) -> None:
    """Rates are 0, scores none, and everything prints as JSON without NaN or infinity."""
    for friction in (
        {},
        {"friction_law": "film", "film_rate": 150.0},
        {"friction_law": "wetted", "film_rate": 1.0},
    ):
        for drag in (0.0, 0.3):
            found = solve_contact(case(**quiet, **friction, post_drag_nm=drag, pivot_height_m=0.02))
            assert found["mean_rate_m_per_s"] == 0.0
            assert not any(found["removal_rate_m_per_s"])
            assert found["evenness_cv"] is None
            json.dumps(found, allow_nan=False)


@pytest.mark.parametrize(
    "edge",
    [
        {"post_offset_m": 0.0, "hole_radius_m": 0.0},
        {"post_offset_m": 0.0, "hole_radius_m": 0.0, "lap_radius_m": 0.23},
        {"post_offset_m": 0.075},
        {"post_offset_m": 0.155, "hole_radius_m": 0.0},
        {"post_offset_m": 0.155 - 0.031},
        {"post_offset_m": 0.155 + 0.031},
        {"hole_radius_m": 0.0, "radii_m": [0.0]},
        {"post_offset_m": 1e-12, "hole_radius_m": 0.0},
    ],
)
def test_edges_of_the_geometry_give_finite_numbers(edge: dict[str, Any]) -> None:
    """Concentric, touching the rim, touching the centre, touching the hole: finite, with and without drag."""
    for drag in (0.0, 0.5):
        found = solve_contact(case(**edge, post_drag_nm=drag))
        json.dumps(found, allow_nan=False)
        assert 0.0 <= found["spin_ratio"] <= 1.0 + 1e-9


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lap_radius_m": -0.1}, "lap_radius_m"),
        ({"mirror_radius_m": math.nan}, "mirror_radius_m"),
        ({"load_n": math.inf}, "load_n"),
        ({"post_offset_m": 0.5}, "post_offset_m.*beside"),
        ({"post_offset_m": 0.0, "lap_radius_m": 0.02}, "post_offset_m.*hole"),
        ({"hole_radius_m": 0.3}, "hole_radius_m"),
        ({"friction_coefficient": 0.0}, "friction_coefficient"),
        ({"friction_law": "film"}, "film_rate"),
        ({"friction_law": "dry"}, "friction_law"),
        ({"radii_m": [0.1, 0.5]}, r"radii_m\[1\]"),
        ({"radii_m": "all"}, "radii_m"),
        ({"post_drag_nm": "1"}, "post_drag_nm"),
        ({"speed": 1.0}, "speed"),
        ({"load_n": 1e300}, "load_n.*at most"),
        ({"mirror_radius_m": 1e200}, "mirror_radius_m.*at most"),
        ({"lap_radius_m": 1e-20}, "lap_radius_m.*at least"),
        ({"pivot_height_m": 0.5}, "pivot_height_m"),
        ({"table_speed_rad_per_s": None}, "table_speed_rad_per_s"),
    ],
)
def test_nonsense_is_refused_by_name(change: dict[str, Any], words: str) -> None:
    """One sentence names the key; nothing is guessed."""
    with pytest.raises(BadInput, match=words):
        solve_contact(case(**change))


EXTREMES = st.sampled_from([0.0, 1e-300, 1e-39, 1e-20, 1e-9, 1e-3, 0.1, 1.0, 1e3, 1e8])


@settings(max_examples=150, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "mirror_radius_m": st.just(0.25),
            "lap_radius_m": st.sampled_from([0.1, 0.25, 0.4]),
            "post_offset_m": st.sampled_from([0.0, 1e-300, 1e-39, 1e-9, 0.05, 0.15, 0.25, 0.3]),
            "hole_radius_m": st.sampled_from([0.0, 1e-300, 1e-20, 0.1]),
            "pressure_law": st.sampled_from(["uniform", "linear", "no_tension"]),
            "friction_law": st.sampled_from(["coulomb", "film", "wetted"]),
        }
        | dict.fromkeys(
            (
                "load_n",
                "friction_coefficient",
                "table_speed_rad_per_s",
                "pivot_height_m",
                "post_drag_nm",
                "post_drag_viscous_nm_s",
                "film_rate",
            ),
            EXTREMES,
        )
    )
)
def test_extremes_are_answered_in_finite_numbers_or_refused(extreme: dict[str, Any]) -> None:
    """Whatever is given, the answer has no NaN and no infinity, or the refusal is one of ours."""
    try:
        found = solve_contact(extreme | {"preston_per_pa": 1e-12})
    except BadInput:
        return
    json.dumps(found, allow_nan=False)
