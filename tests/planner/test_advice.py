"""When which suggestion is made, and that there is never more than one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchctl.models.job import demo_job
from benchctl.planner import advice
from benchctl.planner.advice import Bench, suggest
from benchctl.planner.history import Care, Decided, History
from benchctl.planner.post_move import best_move
from benchctl.planner.progress import Reckoning
from benchctl.planner.regime import GENTLER_LOAD, regime, why
from tests.planner.demo_story import history

JOB = demo_job()


def reckoning(segments: int, **last: float) -> Reckoning:
    """The demo's story after so many segments, the last of them changed."""
    found = history(segments)
    found.segments[-1] = replace(found.segments[-1], **last)  # type: ignore[arg-type]
    return Reckoning(JOB, found)


def act(found: Reckoning, bench: Bench | None = None) -> str | None:
    """What is suggested, in its word."""
    said = suggest(found, bench)
    return None if said is None else said.act


def test_before_the_first_segment_nothing_is_suggested() -> None:
    """Without work and looks there is no suggestion; the ranges are those of the tables."""
    bare = Reckoning(JOB, History(JOB.mirror.name))

    assert act(bare) is None
    assert bare.finished() == [False] * 6


def test_a_lag_that_stays_though_the_post_was_freed_is_laid_to_the_weights() -> None:
    """The first lag says: free the post. A lag right after that was done says: centre the weights."""
    first = reckoning(8, spin_ratio=0.75)
    assert act(first) == "free_post"

    again = history(8)
    again.segments[-1] = replace(again.segments[-1], spin_ratio=0.75)
    again.decisions.append(Decided(7, {"act": "free_post", "taken": "accepted"}))
    assert act(Reckoning(JOB, again)) == "weights"


def test_a_lag_within_the_usual_is_no_reason() -> None:
    """A spin 0.05 below the usual one brings no suggestion about the post's bearing."""
    assert act(reckoning(8, spin_ratio=0.87)) != "free_post"


def test_a_jerky_lap_is_pressed_again() -> None:
    """A lap that jerked for a fifth of the segment is pressed, and the reason says how long it jerked."""
    found = suggest(reckoning(8, jerky_share=0.2))

    assert found is not None
    assert found.act == "press"
    assert "20%" in found.reason


@pytest.mark.parametrize(("factor", "wanted"), [(1.25, "trim"), (0.75, "charge")])
def test_a_change_of_drag_since_the_lap_was_cared_for(factor: float, wanted: str) -> None:
    """A motor that needs a quarter more says trim the channels; a quarter less, charge afresh."""
    done = history(8)
    done.segments = [
        replace(one, load_percent=40.0 * (factor if one.number > 5 else 1.0), spin_ratio=0.92)
        for one in done.segments
    ]
    assert act(Reckoning(JOB, done)) == wanted

    done.cares.append(Care(5, "trimmed"))
    assert act(Reckoning(JOB, done)) not in ("trim", "charge")


def test_a_move_waits_for_three_looks_with_the_post_where_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """The post was moved at segment 10: what would be suggested is kept back until the third look since."""
    move = best_move(Reckoning(JOB, history(18)), 0.3)
    monkeypatch.setattr(advice, "best_move", lambda reckoning, doubt: move)

    assert [act(Reckoning(JOB, history(segments))) for segments in (10, 12, 14)] == [None, None, "post"]


def test_the_post_may_go_back_where_it_stood_though_the_model_lets_the_lap_lift(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Out to where the lap has run on this mirror, but no farther, whatever the model says of lifting."""
    found = Reckoning(JOB, history(18))
    found.settings = replace(found.settings, post_offset_m=0.118)
    monkeypatch.setattr(found.depths, "lifts", lambda offset_m: True)

    move = best_move(found, 0.3)
    assert move is not None
    assert 0.118 < move.offset_m <= 0.1311

    found.history.segments = [replace(one, post_offset_m=0.118) for one in found.history.segments]
    move = best_move(found, 0.3)
    assert move is None or move.by_m < 0.0


def test_a_move_that_was_declined_is_not_asked_for_again_at_once() -> None:
    """A declined move of the post is not suggested again within two segments, and then it is."""
    done = history(18)
    done.decisions.append(Decided(17, {"act": "post", "taken": "declined"}))
    assert act(Reckoning(JOB, done)) != "post"

    done.decisions[-1] = Decided(15, {"act": "post", "taken": "declined"})
    assert act(Reckoning(JOB, done)) == "post"


def test_an_unfinished_pass_of_marks_is_ended_first() -> None:
    """On finished glass: stop where the pass has ended or is far from it, else so many more to end it."""
    done = Reckoning(JOB, history(40))

    assert act(done, Bench(pass_ends_in=0)) == "stop"
    assert act(done, Bench(pass_ends_in=9)) == "stop"
    ending = suggest(done, Bench(pass_ends_in=2))
    assert ending is not None
    assert ending.act == "end_pass"
    assert ending.words.startswith("2 more")


def test_doubt_learned_from_misses_holds_a_move_back() -> None:
    """A planner whose effects were wrong by their own size no longer suggests moving the post."""
    done = Reckoning(JOB, history(18))

    assert act(done, Bench(effect_doubt=0.3)) == "post"
    assert act(done, Bench(effect_doubt=2.0)) != "post"


def test_the_gentler_regime_comes_with_the_end_and_not_before() -> None:
    """Far from the end it is not due; near it, it is proposed at the same turns, with a warning."""
    early = regime(Reckoning(JOB, history(12)))
    assert not early.due

    late = Reckoning(JOB, history(28))
    found, said = regime(late), suggest(late)
    assert found.due
    assert said is not None
    assert said.act == "gentler"
    assert said.changes["load_n"] == pytest.approx(GENTLER_LOAD * JOB.load_n, rel=0.01)
    assert said.changes["length_s"] * said.changes["work_rpm"] == pytest.approx(960 * 26, rel=0.01)
    assert any("gross regime" in sentence for sentence in why(found))
    assert found.last.high < early.last.high
