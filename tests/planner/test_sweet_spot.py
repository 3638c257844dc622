"""Where to set the post: against entries worked out apart, and by its own definition."""

from __future__ import annotations

from typing import Any

import pytest

from benchctl.errors import BadInput
from benchctl.physics.case import Case, read_case
from benchctl.physics.solve import solve_contact, steady_state
from benchctl.planner.lag import held_at, lag_effect, read_lag, with_drag
from benchctl.planner.sweet_spot import at_offset, best_offsets, curve_tendency, sweep, turning_of

NEUTRAL = (
    (0.60, 0.585, 0.115),
    (0.65, 0.567, 0.107),
    (0.70, 0.547, 0.100),
    (0.75, 0.526, 0.093),
    (0.80, 0.504, 0.081),
)
"""Lap over mirror, neutral offset over mirror radius, change of the slope per 0.01 R (worked out apart)."""
ZONES = (
    (0.50, 1.0, (1.48, 1.19, 1.06, 0.95, 0.81)),
    (0.53, 1.0, (1.24, 1.10, 1.05, 0.99, 0.88)),
    (0.56, 1.0, (1.02, 1.01, 1.03, 1.02, 0.96)),
    (0.56, 0.9, (0.94, 0.96, 1.01, 1.04, 1.00)),
    (0.56, 0.8, (0.86, 0.91, 1.00, 1.05, 1.05)),
    (0.56, 0.6, (0.70, 0.82, 0.96, 1.08, 1.13)),
    (0.56, 0.0, (0.37, 0.62, 0.90, 1.14, 1.29)),
    (0.59, 1.0, (0.79, 0.90, 1.01, 1.06, 1.05)),
)
"""Offset over mirror radius, spin ratio, zones inner to edge; lap 0.674, hole 0.135 (worked out apart)."""


def case(**changed: Any) -> Case:
    """A mirror of 1 m radius, a lap of 0.7, a load of 200 N, no drag."""
    given: dict[str, Any] = {
        "mirror_radius_m": 1.0,
        "lap_radius_m": 0.7,
        "post_offset_m": 0.5,
        "load_n": 200.0,
        "friction_coefficient": 0.3,
        "table_speed_rad_per_s": 3.0,
        "preston_per_pa": 1e-12,
    }
    return read_case(given | changed)


def test_most_even_offset_of_a_70_percent_lap() -> None:
    """A lap of 0.7 without hole is most even at 0.548 R: CV 0.039, PV 0.19, edge/centre 0.83, no lift."""
    best = best_offsets(case())

    assert best.most_even.offset_m == pytest.approx(0.548, abs=2e-3)
    assert best.most_even.cv == pytest.approx(0.039, abs=5e-4)
    assert best.most_even.pv == pytest.approx(0.19, abs=0.01)
    assert best.most_even.edge_over_centre == pytest.approx(0.83, abs=0.02)
    assert not best.most_even.face_lifted
    assert best.first_lift_m is not None
    assert best.first_lift_m > best.most_even.offset_m


@pytest.mark.parametrize("step", [-0.02, -0.01, 0.01, 0.02])
def test_nothing_near_is_more_even(step: float) -> None:
    """No offset a per cent or two away scatters less."""
    best = best_offsets(case()).most_even
    there = at_offset(case(), best.offset_m + step)

    assert there.cv is not None
    assert best.cv is not None
    assert there.cv > best.cv


@pytest.mark.parametrize(("lap", "neutral", "slope"), NEUTRAL)
def test_neutral_offsets(lap: float, neutral: float, slope: float) -> None:
    """The neutral offset and the change of the curve with the post agree with the table: 0.3 % of R, 5 %."""
    given = case(lap_radius_m=lap)
    found = best_offsets(given).neutral

    assert found is not None
    assert found.offset_m == pytest.approx(neutral, abs=3e-3)
    outer, inner = (at_offset(given, found.offset_m + d).curve_tendency for d in (0.005, -0.005))
    assert outer - inner == pytest.approx(slope, rel=0.05)


def test_a_larger_lap_wants_a_smaller_offset_and_a_hole_a_larger() -> None:
    """Larger laps are more even, at smaller offsets; a hole moves the most even offset outward."""
    small, large, holed = (
        best_offsets(case(**changed)).most_even
        for changed in ({"lap_radius_m": 0.65}, {"lap_radius_m": 0.75}, {"hole_radius_m": 0.15})
    )

    assert small.offset_m > large.offset_m
    assert (small.cv or 0.0) > (large.cv or 1.0)
    assert holed.offset_m > best_offsets(case()).most_even.offset_m


def test_a_half_size_lap_cannot_be_even() -> None:
    """A lap of half the mirror's diameter leaves a quarter of unevenness or more, wherever the post is."""
    assert (best_offsets(case(lap_radius_m=0.5)).most_even.cv or 0.0) > 0.1


@pytest.mark.parametrize(("offset", "ratio", "zones"), ZONES)
def test_zones_worked_out_apart(offset: float, ratio: float, zones: tuple[float, ...]) -> None:
    """The zones agree with the table within 0.04, the difference of middles of zones and their means."""
    given = case(lap_radius_m=0.674, hole_radius_m=0.135, post_offset_m=offset)

    assert lag_effect(given, ratio).zone_shares == pytest.approx(zones, abs=0.04)


def test_the_tendency_is_the_slope_of_the_best_parabola() -> None:
    """An even removal tends nowhere; a ring worn alone at the rim lengthens the curve."""
    here = at_offset(case(), 0.548)
    outward = at_offset(case(), 0.62)

    assert abs(here.curve_tendency) < 0.05 < outward.curve_tendency


def test_no_removal_has_no_tendency() -> None:
    """With the post on the axis nothing slides in step, and nothing is removed."""
    given = case(post_offset_m=0.0)
    steady = steady_state(given)

    assert curve_tendency(turning_of(given, steady)) == 0.0
    assert at_offset(given, 0.0).cv is None


def test_offsets_that_cannot_be_are_left_out_of_a_sweep() -> None:
    """Offsets at which the lap topples or misses the glass are left out, the others kept in order."""
    points = sweep(case(), [0.3, 0.5, 1.2, 5.0])

    assert [point.offset_m for point in points] == [0.3, 0.5]


def test_one_offset_that_cannot_be_is_refused() -> None:
    """Asked for alone, such an offset is refused by name."""
    with pytest.raises(BadInput, match="post_offset_m"):
        at_offset(case(), 5.0)


@pytest.mark.parametrize("drag", [0.5, 5.0, 12.0])
def test_a_lag_gives_its_drag_back(drag: float) -> None:
    """The spin ratio that a drag makes is read back as that drag, tilt of a high drive point included."""
    given = case(post_drag_nm=drag, pivot_height_m=0.1, post_offset_m=0.55)
    ratio = steady_state(given).spin_ratio

    assert 0.0 < ratio < 1.0
    assert read_lag(given, ratio).post_drag_nm == pytest.approx(drag, rel=1e-6)


def test_a_small_lag_by_the_short_formula() -> None:
    """Near step, a lap wholly on the glass lags 4 e T/(mu W Rl^2) (derived)."""
    given = case(post_offset_m=0.2, post_drag_nm=1e-3)
    lag = 1.0 - steady_state(given).spin_ratio

    assert lag == pytest.approx(4 * 0.2 * 1e-3 / (0.3 * 200.0 * 0.7**2), rel=1e-4)


def test_a_load_off_centre_pulls_like_a_drag() -> None:
    """The load's distance from the centre that reads as a lag is the drag over mu W."""
    found = read_lag(case(), 0.9)

    assert found.load_off_centre_m == pytest.approx(found.post_drag_nm / (0.3 * 200.0))
    assert len(found.causes) == 2


def test_a_stopped_lap_takes_its_stall_torque() -> None:
    """Held at 0, the post takes the torque that stalls it, and the rim wears fastest."""
    given = case(post_offset_m=0.548)
    stopped = lag_effect(given, 0.0)
    step = lag_effect(given, 1.0)

    assert stopped.post_drag_nm == pytest.approx(solve_contact_of(given)["stall_torque_nm"], rel=1e-9)
    assert stopped.zone_shares[-1] > step.zone_shares[-1]
    assert stopped.mean_rate_m_per_s / step.mean_rate_m_per_s == pytest.approx(1.216, abs=2e-3)


@pytest.mark.parametrize(
    ("ratio", "of_load"), [(0.95, 0.0168), (0.9, 0.0336), (0.8, 0.0672), (0.5, 0.1675), (0.0, 0.3455)]
)
def test_drags_at_the_even_offset(ratio: float, of_load: float) -> None:
    """Drag over mu W Rl that makes a ratio at the even offset of a 0.7 lap (worked out apart)."""
    given = case(post_offset_m=0.548)

    assert read_lag(given, ratio).post_drag_nm / (0.3 * 200.0 * 0.7) == pytest.approx(of_load, abs=2e-4)


def test_a_leading_ratio_reads_as_a_load_outward() -> None:
    """A ratio above the free lap's needs a push, which reads as a load outward of the lap's centre."""
    state, push = held_at(case(), 1.1)

    assert state.spin_ratio == pytest.approx(1.0)
    assert push < 0.0
    assert read_lag(case(), 1.1).load_off_centre_m < 0.0


def test_with_drag_replaces_both_drags() -> None:
    """Asking for another drag leaves none that grows with speed."""
    given = with_drag(case(post_drag_viscous_nm_s=0.4), 1.0)

    assert (given.post_drag_nm, given.post_drag_viscous_nm_s) == (1.0, 0.0)


def solve_contact_of(given: Case) -> dict[str, Any]:
    """The whole answer to the same contact."""
    return solve_contact(
        {
            "mirror_radius_m": given.contact.mirror_radius_m,
            "lap_radius_m": given.contact.lap_radius_m,
            "post_offset_m": given.contact.post_offset_m,
            "load_n": given.load_n,
            "friction_coefficient": given.friction_coefficient,
            "table_speed_rad_per_s": given.table_rad_s,
            "preston_per_pa": given.preston_per_pa,
        }
    )
