"""What is set otherwise than in the last segment is told; what is the same is not."""

from __future__ import annotations

from benchctl.models.job import demo_job
from benchctl.planner.differences import differences
from benchctl.units import INCH

JOB = demo_job()
SAME = {
    "lap": JOB.lap.name,
    "post_offset_m": JOB.setup.post_offset_m,
    "load_n": round(JOB.load_n, 3),
    "work_rpm": JOB.segment.work_rpm,
    "planned_s": JOB.segment.length_s,
    "weights": [piece.model_dump() for piece in JOB.setup.pieces],
}


def test_the_same_set_up_differs_in_nothing() -> None:
    """A record of this very set-up gives no line, nor does an empty one."""
    assert differences(JOB, SAME) == []
    assert differences(JOB, {}) == []


def test_each_difference_is_told_with_both_values() -> None:
    """Lap, post, load, speed and length: what it is now and what it was."""
    last = {"lap": "old lap", "post_offset_m": 0.131, "load_n": 170.0, "work_rpm": 24.0, "planned_s": 720.0}
    assert differences(JOB, last) == [
        f"lap {JOB.lap.name}, was old lap",
        "post at 128 mm, was 131 mm",
        f"load {JOB.load_n:.0f} N, was 170 N",
        "26 rpm, was 24 rpm",
        "16 min, was 12 min",
    ]


def test_differences_in_the_units_chosen() -> None:
    """128 mm is 5.04 in, 131 mm is 5.16 in (25.4 mm to the inch)."""
    assert differences(JOB, SAME | {"post_offset_m": 0.131}, INCH) == ["post at 5.04 in, was 5.16 in"]


def test_weights_that_make_the_same_sum_still_differ() -> None:
    """Other pieces of the same sum are told, since they stand otherwise; so is a loose one."""
    pieces = [piece.model_dump() for piece in JOB.setup.pieces]
    loose = [pieces[0] | {"captured": False}, *pieces[1:]]
    told = differences(JOB, SAME | {"weights": loose})
    assert len(told) == 1
    assert "LOOSE" in told[0]


def test_a_damaged_record_differs_in_nothing() -> None:
    """Values of a wrong kind are not compared, and do not raise."""
    assert differences(JOB, {"lap": 3, "post_offset_m": "x", "load_n": None, "weights": [{"mass": 1}]}) == []
