"""A look at the glass."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from benchctl.errors import BadInput
from benchctl.models.inspection import Blemish, Inspection, ZoneLook, zone_bounds_m
from benchctl.models.validation import made

FIVE = tuple(ZoneLook(grey=float(i)) for i in range(5))


def test_zones_are_always_looked_at_in_the_same_order() -> None:
    """From the inmost zone outward, the last 5 mm at the end."""
    assert [name for name, _ in Inspection(zones=FIVE).looks()] == ["1", "2", "3", "4", "5", "edge"]


@pytest.mark.parametrize(
    ("pits", "mean"),
    [((0, 0, 0), 0.0), ((3, 4), 3.5), ((3, "too many"), None), (("too many",), None), (None, None)],
)
def test_the_mean_of_pits_is_a_number_only_where_all_were_counted(pits: object, mean: float | None) -> None:
    """Too many in one field makes the mean unknown, not small."""
    assert ZoneLook.model_validate({"pits": pits}).pits_mean == mean


@pytest.mark.parametrize(
    ("angle_deg", "roughness_um"),
    [(2, 2.0), (5, 0.79), (10, 0.40), (20, 0.20), (30, 0.14), (45, 0.10), (90, 0.07)],
)
def test_the_steepest_angle_tells_the_roughness(angle_deg: float, roughness_um: float) -> None:
    """Rayleigh's criterion, sigma = wavelength / (8 sin g) (from memory); light of 0.55 um."""
    roughness = ZoneLook(steepest_angle_deg=angle_deg).roughness_m
    assert roughness is not None
    assert round(roughness * 1e6, 2 if roughness_um < 2 else 1) == pytest.approx(roughness_um, abs=0.006)


@pytest.mark.parametrize(
    "bad",
    [
        {"grey": -0.1},
        {"grey": 10.1},
        {"grey": float("nan")},
        {"pits": [51]},
        {"pits": []},
        {"pits": [1, 2, 3, 4]},
        {"pits": ["many"]},
        {"laser_spot": 4},
        {"steepest_angle_deg": 0.0},
        {"steepest_angle_deg": 91.0},
        {"gray": 1},
        {"grey": True},
        {"grey": "7"},
        {"laser_spot": 1.5},
        {"pits": [True]},
    ],
)
def test_scores_out_of_range_are_refused(bad: dict[str, object]) -> None:
    """Each score has its range."""
    with pytest.raises(ValidationError):
        ZoneLook.model_validate(bad)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"pits": [70]}, "zone 5.pits.0: 70 pits in a field; count 0 to 50, or write 'too many' for more"),
        (
            {"pits": [1, 2, 3, 4]},
            "zone 5.pits: 4 given; at most 3 are taken; change it and try again",
        ),
        ({"laser_spot": 4}, "zone 5.laser_spot: 4 must be at most 3; change it and try again"),
        ({"gray": 2.0}, "zone 5.gray: unknown key; check its spelling or remove it"),
    ],
)
def test_what_is_refused_is_said_in_one_sentence(wrong: dict[str, object], sentence: str) -> None:
    """The zone, the score, the value, the limit."""
    with pytest.raises(BadInput) as refused:
        made(lambda: Inspection.model_validate({"zones": [{"grey": 1.0}] * 4 + [wrong]}))
    assert str(refused.value) == sentence


def test_a_look_that_saw_nothing_is_refused() -> None:
    """An empty sheet is no inspection; it can be put off instead."""
    with pytest.raises(ValidationError, match="put the look off"):
        Inspection(zones=(ZoneLook(),) * 5)


def test_a_look_has_five_zones() -> None:
    """Four zones are refused."""
    with pytest.raises(ValidationError):
        Inspection(zones=FIVE[:4])


def test_a_blemish_carries_units() -> None:
    """Its radius is typed with a unit and kept in metres."""
    blemish = Blemish.model_validate(
        {"kind": "sleek", "angle_deg": 130.0, "radius_m": "95 mm", "length_m": "12 mm"}
    )
    assert (blemish.radius_m, blemish.length_m) == (pytest.approx(0.095), pytest.approx(0.012))


def test_zones_share_the_width_and_the_edge_is_5_mm() -> None:
    """A 460 mm mirror with a 62 mm hole has zones 39.8 mm wide; the edge runs from 225 mm to 230 mm."""
    bounds = zone_bounds_m(0.230, 0.031)
    assert [round(outer - inner, 6) for inner, outer in bounds] == [0.0398] * 5 + [0.005]
    assert bounds[0][0] == 0.031
    assert bounds[-1] == (pytest.approx(0.225), 0.230)


def test_a_look_is_the_same_after_writing_and_reading() -> None:
    """What goes into the logbook comes back."""
    look = Inspection(
        segment="20260301-140203-aaaaaa",
        zones=FIVE,
        edge=ZoneLook(pits=(3, "too many")),
        blemishes=(Blemish.model_validate({"kind": "sleek", "angle_deg": 3.0, "radius_m": "95 mm"}),),
        glass_temperature_c="20.5 degC",  # type: ignore[arg-type]
    )
    assert Inspection.model_validate(look.model_dump(mode="json"), context={"si": True}) == look
