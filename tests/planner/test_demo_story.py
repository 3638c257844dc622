"""The story the planner must tell: the post went out 3 mm for a grey edge, and the inner zone is last."""

from __future__ import annotations

import pytest

from benchctl.models.job import demo_job
from benchctl.planner.advice import suggest
from benchctl.planner.history import History
from benchctl.planner.progress import Reckoning, ranges
from benchctl.planner.reckoned import reckoned
from benchctl.planner.what_if import Change, what_if
from tests.planner.demo_story import history, moved_out, segments_to_clear

JOB = demo_job()


@pytest.fixture(scope="module")
def at_18() -> Reckoning:
    """The story after 18 segments and nine looks."""
    return Reckoning(JOB, history(18))


def test_before_the_first_look_one_cannot_tell() -> None:
    """After one segment and no look, tables alone span more than three times: one cannot tell yet."""
    told = reckoned(Reckoning(JOB, history(1)))

    assert told["last_zone"]["verdict"] == "cannot tell yet"
    assert {row["verdict"] for row in told["rings"]} == {"cannot tell yet"}


def test_zone_1_not_the_edge_is_named_last(at_18: Reckoning) -> None:
    """After 18 segments zone 1 is last, though every zone scores hardly any grey."""
    told = reckoned(at_18)

    assert told["last_zone"]["zone"] == "1"
    assert max(ring.grey or 0.0 for ring in at_18.history.looks[-1].rings) <= 2.0


def test_the_post_is_to_go_back_in(at_18: Reckoning) -> None:
    """The one suggestion is to move the post in, and its reason names zone 1."""
    found = suggest(at_18)

    assert found is not None
    assert found.act == "post"
    assert found.changes["post_offset_m"] < 0.130
    assert "Zone 1 will be the last" in found.reason
    assert found.effect[0] > 0.0 > found.effect[4]
    assert found.effect_low[0] < found.effect[0] < found.effect_high[0]


def test_the_ranges_hold_the_truth(at_18: Reckoning) -> None:
    """Each zone's 80 % range, a segment wider, has the segments that it truly took."""
    for left, clear in zip(ranges(at_18.segments_left()), segments_to_clear(), strict=True):
        assert left.low - 1.0 <= clear - 18 <= left.high + 1.0


def test_what_if_says_that_moving_in_ends_sooner(at_18: Reckoning) -> None:
    """3 mm in: zone 1 gets more, the edge less, and the last zone is clear sooner, as it truly would be."""
    found = what_if(at_18, Change(post_m=-0.003))
    truly = max(segments_to_clear()[:5]) - max(segments_to_clear(move_back_after=18)[:5])

    assert found.effect[0] == pytest.approx(0.09, abs=0.02)
    assert found.effect[4] < 0.0
    assert found.saves.low - 0.3 <= truly <= found.saves.high + 0.3
    assert found.saves.likely > 0.0


def test_grey_alone_never_finishes() -> None:
    """With every zone at grey 0 and no pit or spot looked for, no zone is called finished."""
    bare = History(JOB.mirror.name)
    full = history(26)
    bare.segments = full.segments
    bare.looks = [
        type(look)(
            look.after,
            tuple(ring.model_copy(update={"pits": None, "laser_spot": None}) for ring in look.rings),
        )
        for look in full.looks
    ]

    assert not any(Reckoning(JOB, bare).finished())


def test_finished_is_called_from_pits_and_spot() -> None:
    """After 40 segments, without a pit or a spot, all zones are finished: the advice is to end or stop."""
    done = Reckoning(JOB, history(40))

    assert done.finished()[:5] == [True] * 5
    found = suggest(done)
    assert found is not None
    assert found.act in ("stop", "end_pass")


def test_one_pit_or_a_spot_keeps_a_zone_open() -> None:
    """The same glass with one pit, or a spot just seen, in zone 3 is not finished there."""
    done = history(40)
    last = done.looks[-1]
    for change in ({"pits": (0, 1, 0)}, {"laser_spot": 1}, {"pits": (0,)}):
        rings = tuple(
            ring.model_copy(update=change) if place == 2 else ring for place, ring in enumerate(last.rings)
        )
        done.looks[-1] = type(last)(last.after, rings)

        assert Reckoning(JOB, done).finished()[2] is False


def test_the_persons_own_move_is_looked_back_on(at_18: Reckoning) -> None:
    """What the move out was foretold to do stands beside what was seen, and doubt is said where it is due."""
    told = reckoned(at_18)["changes"]

    assert [one["decision"] for one in told] == ["post 3 mm out"]
    assert told[0]["predicted"][0] == moved_out()["predicted"]["zones"][0]
    assert all(seen["low"] < seen["likely"] < seen["high"] for seen in told[0]["seen"])
    assert "predicted -9%" in told[0]["words"]


def test_the_dry_post_of_segment_6_is_named() -> None:
    """After segment 6 with a spin of 0.74 the suggestion is to free the post, with what that gives zone 1."""
    found = suggest(Reckoning(JOB, history(6)))

    assert found is not None
    assert found.act == "free_post"
    assert "0.74" in found.reason
    assert found.effect[0] > 0.1


def test_the_same_log_gives_the_same_answer(at_18: Reckoning) -> None:
    """Nothing is left to chance: two reckonings of one log agree to the last digit."""
    assert reckoned(Reckoning(JOB, history(18))) == reckoned(at_18)
