"""What a job's file asks of a press: when a shift is due, how far, and what is refused."""

from __future__ import annotations

import math

import pytest

from benchctl.errors import BadInput
from benchctl.models.job import Job, demo_job, demo_job_text, parse_job
from benchctl.press.case import press_case


def job(*changes: tuple[str, str]) -> Job:
    """The demo job with lines of its file changed."""
    text = demo_job_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return parse_job(text.encode(), "job.toml")


NO_HOLE = ('hole_diameter = "62 mm"', 'hole_diameter = "0 mm"')
NO_TIME = ('shift_at = "11 min"\n', "")
CENTRED = ('load = "9 kg"', 'load = "9 kg"\nplace = "20 mm"')


def test_the_demo_press_is_shifted_over_hole_and_rim() -> None:
    """128 mm out, a 310 mm lap on a 460 mm mirror overhangs by 53 mm; the hole's 62 mm are more."""
    case = press_case(demo_job())
    assert (case.length_s, case.load_kg, case.shift_at_s) == (1320.0, 9.0, 660.0)
    assert case.load_n == pytest.approx((9.0 + 5.3) * 9.80665)
    assert (case.shift_by_m, case.second_place_m) == (pytest.approx(0.062), pytest.approx(0.066))
    assert case.why_shift == "over the hole and past the rim"


def test_after_the_shift_the_lap_lies_on_the_glass_and_the_hole_under_other_pitch() -> None:
    """The lap's rim has come inside the mirror's, and it was moved by no less than the hole is wide."""
    plan = demo_job()
    case = press_case(plan)
    assert case.second_place_m is not None
    assert case.second_place_m + plan.lap.radius_m <= plan.mirror.radius_m
    assert case.first_place_m - case.second_place_m >= plan.mirror.hole_diameter_m - 1e-12


def test_no_hole_and_no_overhang_need_no_shift() -> None:
    """A lap within the rim of a mirror without a hole is left where it lies."""
    case = press_case(job(NO_HOLE, NO_TIME, CENTRED))
    assert (case.shift_at_s, case.second_place_m, case.second_s) == (None, None, 0.0)


def test_overhang_alone_shifts_by_the_overhang() -> None:
    """Without a hole the lap is brought just onto the glass, at half time."""
    case = press_case(job(NO_HOLE, NO_TIME))
    assert (case.shift_at_s, case.shift_by_m) == (660.0, pytest.approx(0.053))
    assert case.why_shift == "past the rim"


def test_a_hole_that_the_lap_does_not_reach_needs_no_shift() -> None:
    """A small lap far out lies beside the hole; it overhangs no rim either."""
    beside = job(
        NO_TIME,
        ('diameter = "310 mm"', 'diameter = "100 mm"'),
        ('load = "9 kg"', 'load = "9 kg"\nplace = "120 mm"'),
    )
    assert press_case(beside).shift_at_s is None


def test_a_time_that_the_file_names_is_followed() -> None:
    """The person may want the lap turned although nothing calls for it."""
    case = press_case(job(NO_HOLE, CENTRED))
    assert (case.shift_at_s, case.why_shift) == (660.0, "as the file asks")


def test_another_length_puts_the_shift_at_half_time() -> None:
    """The file's eleven minutes belong to the file's length."""
    assert press_case(demo_job(), length_s=600.0).shift_at_s == 300.0
    assert press_case(demo_job(), length_s=1320.0, load_kg=7.0).shift_at_s == 660.0


@pytest.mark.parametrize(
    ("length_s", "load_kg", "words"),
    [
        (5.0, None, "press.length: 5 s must be at least 60 s"),
        (math.nan, None, "press.length"),
        (math.inf, None, "press.length"),
        (-60.0, None, "press.length"),
        (None, 0.0, "press.load: 0 kg must be more than 0 kg"),
        (None, 1e6, "press.load"),
    ],
)
def test_a_press_out_of_range_is_refused(length_s: float | None, load_kg: float | None, words: str) -> None:
    """Length and load are checked like the file's."""
    with pytest.raises(BadInput, match=words):
        press_case(demo_job(), length_s, load_kg)


def test_a_place_beside_the_mirror_is_refused() -> None:
    """A lap that does not touch the glass presses nothing."""
    with pytest.raises(BadInput, match="beside the mirror"):
        press_case(job(('load = "9 kg"', 'load = "9 kg"\nplace = "400 mm"')))


def test_a_shift_after_the_end_is_refused() -> None:
    """The file's own times must go together."""
    with pytest.raises(BadInput, match="shift_at must lie within the press, before 22 min"):
        job(('shift_at = "11 min"', 'shift_at = "22 min"'))
