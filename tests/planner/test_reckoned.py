"""What if, a sitting, the bench beside the mechanics, the coefficient carried on, looking back."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from benchctl.errors import BadInput
from benchctl.models.job import demo_job
from benchctl.planner.beside_the_bench import side_by_side, standing
from benchctl.planner.carried import BETWEEN_MIRRORS, carried, first_prior, next_prior
from benchctl.planner.followup import EFFECT_DOUBT, Followup, doubt
from benchctl.planner.history import History
from benchctl.planner.marks import Placed
from benchctl.planner.progress import Range, Reckoning, ranges
from benchctl.planner.reckon_text import headline, reckoned_lines, sitting_lines, what_if_lines
from benchctl.planner.reckoned import decision, outcome, reckoned
from benchctl.planner.sitting import BETWEEN_S, LOOK_S, plan_sitting
from benchctl.planner.what_if import Change, what_if
from tests.planner.demo_story import END_M, history

JOB = demo_job()


@pytest.fixture(scope="module")
def at_20() -> Reckoning:
    """The demo's story after 20 segments."""
    return Reckoning(JOB, history(20))


def test_two_segments_farther_in_and_then_as_before(at_20: Reckoning) -> None:
    """For two segments only, a move does less than for good, and it says what is left after them."""
    short, long = (what_if(at_20, Change(-0.003, segments=count)) for count in (2, None))

    assert 0.0 <= short.saves.likely <= long.saves.likely
    assert short.left_m is not None
    now = ranges(at_20.left_m)
    assert all(then.likely < before.likely for then, before in zip(short.left_m, now, strict=True))


def test_no_change_changes_nothing(at_20: Reckoning) -> None:
    """What if nothing is changed: no effect, nothing gained."""
    found = what_if(at_20, Change())

    assert found.effect == (0.0,) * 6
    assert found.saves == Range(0.0, 0.0, 0.0)


def test_half_the_load_takes_twice_as_long(at_20: Reckoning) -> None:
    """Depth goes with load (Preston 1927), so at half of it all that is left takes twice the segments."""
    found = what_if(at_20, Change(load_share=0.5))

    for half, whole in zip(found.finish, found.finish_now, strict=True):
        assert half.likely == pytest.approx(2 * whole.likely)


@pytest.mark.parametrize(
    ("change", "word"),
    [(Change(post_m=-0.2), "in"), (Change(load_share=9.0), "load"), (Change(segments=0), "segments")],
)
def test_a_change_that_cannot_be_is_refused(at_20: Reckoning, change: Change, word: str) -> None:
    """A post past the axis, a ninefold load, no segments: one sentence each."""
    with pytest.raises(BadInput, match=word):
        what_if(at_20, change)


def test_a_sitting_fits_into_its_time(at_20: Reckoning) -> None:
    """Press, segments, looks and all between fit in, and one segment more would not."""
    time_s = 2.5 * 3600
    sitting = plan_sitting(at_20, time_s, [], 7)
    ends = [step.at_s + step.length_s for step in sitting.steps]

    assert ends[-1] <= time_s
    assert all(step.at_s == pytest.approx(end) for step, end in zip(sitting.steps[1:], ends, strict=False))
    assert sitting.spare_s < JOB.segment.length_s + BETWEEN_S + LOOK_S
    assert [step.act for step in sitting.steps].count("segment") == sitting.segments == len(sitting.marks)
    assert sitting.steps[0].act == "press"
    assert sitting.steps[-1].act == "look"


def test_no_mark_comes_twice_in_a_pass(at_20: Reckoning) -> None:
    """The marks planned are unused ones of the pass, and different from each other."""
    placed = [Placed(mark, 1.0) for mark in (1, 2, 3, 4)]
    marks = plan_sitting(at_20, 4 * 3600, placed, 7).marks

    assert len(set(marks)) == len(marks)
    assert not set(marks) & {1, 2, 3, 4}


def test_the_pass_is_ended_where_that_is_near(at_20: Reckoning) -> None:
    """With three marks left and room for a fourth, the sitting ends with the pass."""
    placed = [Placed(mark, 1.0) for mark in range(1, 11)]
    sitting = plan_sitting(at_20, 2.6 * 3600, placed, 7)

    assert sitting.segments == 3
    assert sitting.ends_pass


def test_too_short_a_sitting_is_refused(at_20: Reckoning) -> None:
    """Half an hour is too short for press, segment and look, and the sentence says what they take."""
    with pytest.raises(BadInput, match="55 min"):
        plan_sitting(at_20, 1800.0, [], 7)


def test_a_standing_lag_is_named_with_its_causes() -> None:
    """A spin 0.1 below the predicted in the last four segments is a standing difference; in one it is not."""
    done = history(8)
    slow = [replace(one, spin_ratio=0.80) if one.number > 4 else one for one in done.segments]
    once = [replace(one, spin_ratio=0.80) if one.number == 8 else one for one in done.segments]

    found = Reckoning(JOB, History(JOB.mirror.name, slow, done.looks))
    named = [one for one in standing(found, side_by_side(found)) if one.what == "spin"]
    assert named[0].way == "below"
    assert "post" in named[0].words
    found = Reckoning(JOB, History(JOB.mirror.name, once, done.looks))
    assert not [one for one in standing(found, side_by_side(found)) if one.what == "spin"]


def test_motor_effort_is_held_against_load_and_offset() -> None:
    """Effort that goes with load x offset is as predicted; 20 % more of it stands apart."""
    done = history(9)
    more = [replace(one, load_percent=41.0 * (1.2 if one.number > 5 else 1.0)) for one in done.segments]
    found = Reckoning(JOB, History(JOB.mirror.name, more, done.looks))

    named = [one for one in standing(found, side_by_side(found)) if one.what == "torque"]
    assert [one.way for one in named] == ["above"]
    plain = Reckoning(JOB, done)
    assert not [one for one in standing(plain, side_by_side(plain)) if one.what == "torque"]


def test_a_finished_mirror_narrows_the_next_ones_coefficient() -> None:
    """What one mirror says of the coefficient is narrower than a table, and two say more than one."""
    done = (JOB, history(30))
    one, two = carried(JOB, [done]), carried(JOB, [done, done])

    assert one.preston_spread < first_prior(JOB).preston_spread
    assert two.preston_spread <= one.preston_spread
    assert one.preston_per_pa == pytest.approx(6e-13, rel=0.35)
    assert next_prior(Reckoning(JOB, history(0)), 5e-6).preston_spread >= BETWEEN_MIRRORS


def test_pits_that_go_faster_mean_a_higher_coefficient_or_shallower_damage() -> None:
    """Half the load that was written, with the same looks: the coefficient is reckoned higher."""
    done = history(24)
    light = [replace(one, load_n=0.6 * one.load_n) for one in done.segments]
    asis, high = (
        np.median(Reckoning(JOB, History(JOB.mirror.name, some, done.looks)).truths.preston_per_pa)
        for some in (done.segments, light)
    )

    assert high > 1.1 * asis


def test_damage_depth_is_found_again() -> None:
    """At the end of the story the depth at which zones are clear is found within the 80 % range."""
    found = Reckoning(JOB, history(30))
    taken = np.median(found.truths.depth_m(found.by_segment.sum(axis=0), JOB.preston_per_pa)[:, 0])
    clear = ranges((found.truths.clear_m * 6e-13 / found.truths.preston_per_pa)[:, None])[0]

    assert clear.low * 0.95 < END_M < clear.high * 1.05
    assert taken > 0.0


def test_misses_widen_the_doubt_and_hits_do_not() -> None:
    """An effect seen far off widens what is doubted of the next one; one seen as predicted does not."""
    hit = Followup("post", 3, (0.1,) * 5, [Range(0.09, 0.1, 0.11)] * 5, ["as predicted"] * 5)
    miss = Followup("post", 3, (0.1,) * 5, [Range(-0.11, -0.1, -0.09)] * 5, ["less than predicted"] * 5)

    assert doubt([]) == pytest.approx(EFFECT_DOUBT)
    assert doubt([hit]) < EFFECT_DOUBT < doubt([miss])


def test_all_of_it_is_finite_json(at_20: Reckoning) -> None:
    """Every group is JSON without NaN or infinity, also before the first segment."""
    for one in (at_20, Reckoning(JOB, history(0)), Reckoning(JOB, history(1))):
        json.dumps(reckoned(one), allow_nan=False)
        json.dumps(outcome(what_if(one, Change(-0.001, segments=1))), allow_nan=False)


def test_a_decision_says_what_was_foretold(at_20: Reckoning) -> None:
    """An accepted suggestion's record has change and effect; a declined one changes nothing."""
    told = reckoned(at_20)["suggestion"]
    assert told is not None
    yes, no = (
        decision(told, mirror="M", segment="s", taken=one, why="w") for one in ("accepted", "declined")
    )

    assert yes["changes"] == told["changes"]
    assert yes["predicted"]["zones"] == list(told["effect"][:5])
    assert no["changes"] == {}
    assert no["decision"].startswith("not followed")


def test_lines_for_people(at_20: Reckoning) -> None:
    """The pages name the last zone, the reason and the marks."""
    lines = "\n".join(reckoned_lines(reckoned(at_20)))
    assert "Last will be zone 1" in lines
    assert "Why:" in lines
    assert "post 3 mm in" in what_if_lines(outcome(what_if(at_20, Change(-0.003))))[0]
    assert "marks" in sitting_lines(plan_sitting(at_20, 2 * 3600, [], 1))[0]


@pytest.mark.parametrize(
    ("segments", "wanted"),
    [
        (1, "One cannot tell yet what is left. Next: "),
        (10, "Zone 1 is likely the last; in how many segments one cannot tell yet. Next: "),
        (26, "Zone 1 is last: "),
        (40, "All five zones are finished. Next: stop"),
    ],
)
def test_the_first_line_says_no_more_than_is_known(segments: int, wanted: str) -> None:
    """Nothing is named before the first look, no number while one cannot tell; at the end it says so."""
    assert headline(reckoned(Reckoning(JOB, history(segments)))).startswith(wanted)


@pytest.mark.parametrize(
    ("low", "high", "tells"), [(4.0, 12.0, True), (4.0, 12.1, False), (0.0, 2.0, True), (0.0, 2.1, False)]
)
def test_a_range_tells_within_three_times_or_where_the_end_is_near(
    low: float, high: float, tells: bool
) -> None:
    """The last figure is at most three times the first, or both are within two segments."""
    assert Range(low, (low + high) / 2, high).tells is tells


def test_a_ring_that_the_lap_does_not_reach_takes_999_segments() -> None:
    """With the post on the mirror's axis the outer rings get nothing: that is said in a number JSON has."""
    done = history(8)
    done.segments[-1] = replace(done.segments[-1], post_offset_m=0.0)
    told = reckoned(Reckoning(JOB, done))

    assert json.loads(json.dumps(told, allow_nan=False))["last_zone"]["segments_left"] == [999.0] * 3
    assert headline(told).startswith("Zone 5 is last: the lap does not reach it. ")
    assert "Zone 5 is never clear with the lap and the post as they are." in reckoned_lines(told)


def test_a_finished_mirror_is_not_told_of_a_regime_to_come() -> None:
    """On finished glass there is no word of a gentler regime that would be due later."""
    told = reckoned(Reckoning(JOB, history(40)))

    assert "not due yet" not in " ".join(told["regime"]["why"])
