"""Which mark comes next, and what is left to print through."""

from __future__ import annotations

import itertools
import json
import math
import random
from collections import Counter
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from scipy import stats

from benchctl.errors import BadInput
from benchctl.planner.mark_ledger import MarkLedger
from benchctl.planner.marks import (
    Draw,
    Placed,
    angle_rad,
    best_marks,
    current_pass,
    draw,
    draw_of,
    override,
    pick,
    print_through,
    replays,
    used_up,
)


def mean_square_left(count: int, segments: int, order: int, placed: list[Placed]) -> float:
    """The mean of R_m squared over every way the draw can go, each with its chance; no sampling."""
    if len(placed) == segments:
        left = print_through(placed, count, order)
        assert left is not None
        return left**2
    unused = current_pass(placed, count).unused
    ways = best_marks(placed, count, unused, 1.0) if placed else (1,)  # the first is free by symmetry
    return sum(mean_square_left(count, segments, order, [*placed, Placed(mark, 1.0)]) for mark in ways) / len(
        ways
    )


@pytest.mark.parametrize(("segments", "limit"), [(3, 0.25), (5, 0.16), (8, 0.10)])
def test_two_fold_print_through_left_of_13_marks(segments: int, limit: float) -> None:
    """The root mean square two-fold print-through of the draw keeps its goal (our own figures, computed)."""
    assert math.sqrt(mean_square_left(13, segments, 2, [])) <= limit


@pytest.mark.parametrize(("count", "segments"), [(13, 3), (13, 5), (13, 8), (11, 4), (12, 5), (16, 7)])
@pytest.mark.parametrize("order", [2, 3])
def test_the_plain_draw_leaves_what_sampling_without_replacement_leaves(
    count: int, segments: int, order: int
) -> None:
    """rms R = sqrt((N - k)/(k (N - 1))), the finite-population rule (Cochran; from memory)."""
    luck, squares = random.Random(count * segments), []
    for _ in range(1500):
        placed: list[Placed] = []
        for _ in range(segments):
            placed.append(Placed(draw(placed, count, luck.getrandbits(40), method="plain").mark, 1.0))
        squares.append((print_through(placed, count, order) or 0.0) ** 2)
    expected = (count - segments) / (segments * (count - 1))
    doubt = stats.sem(squares)
    assert abs(np.mean(squares) - expected) < 4 * doubt


@pytest.mark.parametrize("count", [3, 5, 7, 10, 11, 12, 13, 16])
@pytest.mark.parametrize("order", range(1, 27))
def test_a_full_pass_removes_every_order_that_is_no_multiple_of_n(count: int, order: int) -> None:
    """N-position theorem: Evans and Kestner, Applied Optics 35 (1996), read as abstract."""
    placed = [Placed(mark, 0.23) for mark in range(1, count + 1)]
    left = print_through(placed, count, order)
    assert left == pytest.approx(1.0 if order % count == 0 else 0.0, abs=1e-12)


@pytest.mark.parametrize("order", [2, 3])
def test_print_through_is_a_component_of_the_discrete_fourier_transform(order: int) -> None:
    """R_m is |DFT_m| of the depths by mark over their sum (checked with numpy.fft)."""
    depths = np.random.default_rng(3).uniform(0.1, 0.4, 13)
    placed = [Placed(mark + 1, float(depths[mark])) for mark in (5, 0, 12, 7, 3, 9, 1, 2, 4, 6, 8, 10, 11)]
    expected = abs(np.fft.fft(depths)[order]) / depths.sum()
    assert print_through(placed, 13, order) == pytest.approx(expected, rel=1e-12)


@given(st.permutations(range(1, 14)), st.integers(1, 3))
def test_the_order_of_segments_does_not_matter_to_what_is_left(marks: list[int], part: int) -> None:
    """Print-through is a sum."""
    some = [Placed(mark, 1.0 + mark / 10) for mark in marks[: 4 * part]]
    for order in (2, 3):
        assert print_through(some, 13, order) == pytest.approx(
            print_through(some[::-1], 13, order), abs=1e-12
        )


def test_nothing_polished_leaves_nothing_to_say() -> None:
    """Without depth there is no share."""
    assert print_through([], 13, 2) is None
    assert print_through([Placed(1, 0.0)], 13, 2) is None


@pytest.mark.parametrize("history", [[], [3], [3, 13, 6], [1, 5, 9, 13, 4]])
def test_every_candidate_is_drawn_with_equal_chance(history: list[int]) -> None:
    """100,000 draws with seeds 0, 1, 2, ... pass Pearson's chi-square test (SciPy) at one in a thousand."""
    placed = [Placed(mark, 1.0) for mark in history]
    unused = current_pass(placed, 13).unused
    candidates = best_marks(placed, 13, unused, 1.0)
    picks = Counter(pick(candidates, seed) for seed in range(100_000))
    assert {draw(placed, 13, seed).mark for seed in range(500)} == set(candidates)
    assert set(picks) == set(candidates)
    assert stats.chisquare([picks[mark] for mark in candidates]).pvalue > 0.001


def test_the_best_third_is_the_best_third() -> None:
    """After one segment at mark 1 of 13 the four best of twelve are drawn from, and no other is better."""
    placed = [Placed(1, 1.0)]
    best = best_marks(placed, 13, current_pass(placed, 13).unused, 1.0)

    def left(mark: int) -> float:
        after = [*placed, Placed(mark, 1.0)]
        return (print_through(after, 13, 2) or 0.0) ** 2 + 0.5 * (print_through(after, 13, 3) or 0.0) ** 2

    assert len(best) == 4
    assert max(map(left, best)) < min(left(mark) for mark in range(2, 14) if mark not in best)


def test_the_first_mark_may_be_any() -> None:
    """On a mirror not yet polished all marks tie, and none is preferred."""
    assert best_marks([], 13, range(1, 14), 1.0) == tuple(range(1, 14))


def test_deep_segments_weigh_more() -> None:
    """A segment ten times as deep at mark 1 pulls the next draw away from the marks that would add to it."""
    placed = [Placed(1, 10.0), Placed(4, 1.0), Placed(8, 1.0)]
    unused = current_pass(placed, 13).unused
    weighted = best_marks(placed, 13, unused, 1.0)
    plain = best_marks([Placed(one.mark, 1.0) for one in placed], 13, unused, 1.0)
    assert weighted != plain
    assert all(math.cos(2 * angle_rad(mark, 13)) < 0.5 for mark in weighted)


@pytest.mark.parametrize(("turns", "used"), [(0.0, False), (138.0, False), (139.0, True), (416.0, True)])
def test_an_aborted_segment_uses_its_mark_from_a_third_of_its_turns(turns: float, used: bool) -> None:
    """Of 416 planned turns 139 use the mark up, 138 do not (our rule; the person may choose otherwise)."""
    assert used_up(turns, 416.0) is used


def test_a_mark_given_back_is_offered_again_and_its_depth_counts() -> None:
    """After a segment cut short the same mark is offered, whatever the seed."""
    placed = [Placed(3, 1.0), Placed(9, 0.2, used=False)]
    for seed in range(20):
        assert (draw(placed, 13, seed).mark, draw(placed, 13, seed).method) == (9, "again")
    assert 9 in current_pass(placed, 13).unused
    assert print_through(placed, 13, 2) != print_through(placed[:1], 13, 2)


def test_a_draw_is_replayed_from_its_record() -> None:
    """Seed, count and history give the same draw again."""
    placed = [Placed(mark, 1.0) for mark in (3, 13, 6)]
    first = draw(placed, 13, 123456789)
    record = first.fields()
    again = draw(placed, record["mark_count"], record["seed"], method=record["method"])
    assert again == first
    assert record["mark"] in record["candidates"]
    assert set(record["candidates"]) <= set(record["unused"])


def test_a_known_seed_gives_a_known_mark() -> None:
    """`random.Random(7).random()` is 0.3238... in every Python 3, so this draw must never change."""
    assert random.Random(7).random() == pytest.approx(0.32383276483316237, abs=1e-15)
    assert draw([], 13, 7).mark == 1 + int(0.32383276483316237 * 13)


def test_another_mark_needs_a_reason() -> None:
    """An override keeps what was drawn and why it was not taken; without a reason it is refused."""
    drawn = draw([], 13, 7)
    with pytest.raises(BadInput, match="reason"):
        override(drawn, 3, "  ")
    with pytest.raises(BadInput, match="1 to 13"):
        override(drawn, 14, "chip")
    taken = override(drawn, 9, "chip at the drawn mark")
    assert (taken.mark, taken.override_of, taken.seed, taken.method) == (9, drawn.mark, 7, "override")


def test_no_marks_are_refused() -> None:
    """A rim without marks cannot be drawn from."""
    with pytest.raises(BadInput):
        draw([], 0, 1)


def test_a_pass_of_one_mark_is_that_mark_for_ever() -> None:
    """One mark: always the same, each segment a pass."""
    placed = list(itertools.repeat(Placed(1, 1.0), 4))
    assert draw(placed, 1, 5).mark == 1
    assert current_pass(placed, 1).number == 5


@pytest.mark.parametrize("method", ["balanced", "plain"])
def test_of_14_marks_none_comes_twice_before_all_are_used(method: Literal["balanced", "plain"]) -> None:
    """Each mark once before any comes again (common practice, no source), over fifty passes."""
    luck, placed = random.Random(14), list[Placed]()
    for _ in range(50):
        one_pass = []
        for _ in range(14):
            drawn = draw(placed, 14, luck.getrandbits(31), method=method)
            placed.append(Placed(drawn.mark, luck.uniform(0.5, 1.5)))
            one_pass.append(drawn.mark)
        assert sorted(one_pass) == list(range(1, 15))


def test_a_kept_draw_comes_out_again_or_is_found_out() -> None:
    """A record as JSON gives it back is the same draw; another mark, seed or candidate shows."""
    first = draw([Placed(3, 1.0)], 13, 99)
    kept = json.loads(json.dumps(first.fields()))
    assert draw_of(kept) == first
    assert replays(first)
    assert replays(override(first, 9, "chip"))
    other = next(mark for mark in first.candidates if mark != first.mark)
    changed = draw_of(kept | {"mark": other})
    assert changed is not None
    assert not replays(changed)
    for damage in ({"candidates": None}, {"seed": "x"}, {"unused": 4}, {"mark_count": None}):
        assert draw_of(kept | damage) is None
    del kept["method"]
    assert draw_of(kept) is None


def test_the_sentences_say_what_is_left_and_when_the_pass_ends() -> None:
    """Print-through as shares of one place, the pass and how many segments it takes, how the mark came."""
    ledger = MarkLedger(13)
    assert "nothing polished yet" in ledger.view().sentence
    for mark in range(1, 13):
        ledger.take("segment_end", end(mark))
    drawn = ledger.next_draw(5)
    view = ledger.view()
    left = print_through(ledger.placed, 13, 2)
    assert left is not None
    assert f"two-fold {left:.0%}" in view.left
    assert view.ahead == "Pass 1 of 13 marks ends with this segment."
    assert (drawn.mark, view.choice) == (13, "Mark 13: the only choice.")
    ledger.take("segment_end", end(13))
    view = ledger.view()
    assert view.two_fold == pytest.approx(0.0, abs=1e-12)
    assert view.ahead == "Pass 2 of 13 marks ends in 13 segments."


class DrawMachine(RuleBasedStateMachine):
    """Any row of draws, aborted segments and overrides."""

    @initialize(count=st.integers(1, 16), method=st.sampled_from(["balanced", "plain"]))
    def begin(self, count: int, method: str) -> None:
        self.count, self.method = count, method
        self.placed: list[Placed] = []
        self.drawn_in_pass: list[int] = []

    @rule(seed=st.integers(0, 2**63), depth=st.floats(0.01, 10.0), used=st.booleans())
    def polish(self, seed: int, depth: float, used: bool) -> None:
        drawn: Draw = draw(self.placed, self.count, seed, method=self.method)  # type: ignore[arg-type]
        assert drawn.mark not in self.drawn_in_pass
        self.placed.append(Placed(drawn.mark, depth, used))
        if used:
            self.drawn_in_pass.append(drawn.mark)
        if len(self.drawn_in_pass) == self.count:
            self.drawn_in_pass = []

    @invariant()
    def the_pass_adds_up(self) -> None:
        now = current_pass(self.placed, self.count)
        assert sorted((*now.used, *now.unused)) == list(range(1, self.count + 1))
        assert set(now.used) == set(self.drawn_in_pass)


TestNoMarkTwiceInAPass = DrawMachine.TestCase
TestNoMarkTwiceInAPass.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)


def end(mark: int, turns: float = 416.0, **more: object) -> dict[str, object]:
    plan = {"planned_s": 960.0, "work_rpm": 26.0, "load_n": 189.0, "post_offset_m": 0.128}
    return {"mark": mark, "table_turns": turns} | plan | more


def test_the_ledger_reads_the_logbook() -> None:
    """Draws, ends and interruptions in their order give history, the mark that waits, and overrides."""
    ledger = MarkLedger(13)
    ledger.take("mark_draw", draw([], 13, 7).fields())
    assert ledger.waiting == 5
    ledger.take("note", {"mark": 3})
    ledger.take("segment_end", end(5))
    assert (ledger.waiting, ledger.placed[0].used) == (None, True)
    ledger.take("segment_interrupted", end(9, turns=100.0))
    assert ledger.placed[1] == Placed(9, 100.0 * 189.0 * 0.128, used=False)
    ledger.take("segment_end", end(9, turns=100.0, mark_used=True))
    assert ledger.placed[2].used
    ledger.take("mark_draw", override(draw(ledger.placed, 13, 1), 2, "chip").fields())
    assert [one.mark for one in ledger.overrides] == [2]


@pytest.mark.parametrize("mark", [None, 0, 14, True, "3", 2.0])
def test_the_ledger_passes_over_what_is_no_mark(mark: object) -> None:
    """A record without a mark of this rim changes nothing."""
    ledger = MarkLedger(13)
    ledger.take("segment_end", end(1) | {"mark": mark})
    ledger.take("mark_draw", {"mark": mark})
    assert (ledger.placed, ledger.waiting) == ([], None)


@pytest.mark.parametrize("turns", [None, "many", [], True, math.inf, -3.0])
def test_the_ledger_passes_over_turns_that_are_none(turns: object) -> None:
    """A record edited by hand does not stop the program, and counts for nothing."""
    ledger = MarkLedger(13)
    ledger.take("segment_end", end(4) | {"table_turns": turns})
    assert ledger.placed == []


def test_a_segment_that_never_turned_leaves_its_mark_waiting() -> None:
    """A mark drawn before a start that did not happen is neither lost nor drawn anew."""
    ledger = MarkLedger(13)
    ledger.take("mark_draw", draw([], 13, 7).fields())
    ledger.take("segment_end", end(5, turns=0.0))
    assert (ledger.waiting, ledger.placed) == (5, [])
