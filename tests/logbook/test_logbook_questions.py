"""The ten questions, on logbooks whose answer is known."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from benchctl.logbook import compared, post_moves, questions, rates, room, trends
from benchctl.logbook.reader import Logbook, read
from tests.logbook.books import STALLED, Story


def grey(*values: float) -> dict[str, Any]:
    """A look's zones and edge by their grey scores."""
    zones = [{"grey": value} for value in values]
    return {"zones": zones[:5], "edge": zones[5] if len(zones) > 5 else {}}


def test_work_counts_since_pits_were_last_counted(tmp_path: Path) -> None:
    """Three segments, pits counted after the second: one since."""
    story = Story(tmp_path)
    for number in range(3):
        segment = story.segment()
        if number == 1:
            story.look(segment)
    story.look(segment, **grey(5, 5, 5, 5, 5))
    story.writer.close()
    (row,) = questions.work_done(read(tmp_path)).rows
    assert (row["segments"], row["segments_since_pits"]) == (3, 1)
    assert row["polishing_h"] == pytest.approx(3 * 960 / 3600, abs=1e-3)


def test_work_is_load_times_offset_times_useful_turns(tmp_path: Path) -> None:
    """A segment of 400 useful turns at 189.3 N and 128 mm is 9692 N m turns."""
    story = Story(tmp_path)
    story.segment(useful_turns=400.0)
    story.writer.close()
    (row,) = questions.work_done(read(tmp_path)).rows
    assert row["work_n_m_turns"] == pytest.approx(189.3 * 0.128 * 400, abs=0.1)


def test_stops_say_why_and_what_was_found(tmp_path: Path) -> None:
    """A stalled segment is listed with its reason and the blemish of the look that followed."""
    story = Story(tmp_path)
    story.segment()
    stalled = story.segment(**STALLED)
    sleek = {"kind": "sleek", "angle_deg": 10.0, "radius_m": 0.1}
    story.look(stalled, blemishes=[sleek], note="faint")
    story.segment()
    story.writer.close()
    answer = questions.stops(read(tmp_path))
    assert answer.sentences[0] == "1 of 3 segments stopped early."
    assert answer.sentences[1] == "Segment 2: lap stalled after 6.7 min; found: sleek, faint."


@pytest.mark.parametrize(
    ("more", "listed"),
    [
        ({}, False),
        ({"wet_down": "unanswered"}, True),
        ({"standing_s": 60.0}, False),
        ({"standing_s": 61.0}, True),
        ({"standing_s": None}, False),
    ],
)
def test_water_lists_missed_wet_downs_and_long_standing(
    tmp_path: Path, more: dict[str, Any], listed: bool
) -> None:
    """A missed wet-down or more than a minute of standing is listed, nothing else."""
    story = Story(tmp_path)
    story.segment(**more)
    story.writer.close()
    assert bool(questions.water(read(tmp_path)).rows) is listed


def test_lap_care_compares_the_three_segments_before_and_after(tmp_path: Path) -> None:
    """Trimmed after three segments at 0.90, then 0.95: both means are told."""
    story = Story(tmp_path)
    for _ in range(3):
        story.segment(spin_ratio_mean=0.90, load_mean_percent=44.0)
    story.keep("note", {"text": "channels", "lap_care": "trimmed", "lap": "310 plaster"})
    for _ in range(4):
        story.segment(spin_ratio_mean=0.95, load_mean_percent=40.0)
    story.writer.close()
    (row,) = questions.lap_care(read(tmp_path)).rows
    assert (row["spin_before"], row["spin_after"], row["segments_since"]) == (0.90, 0.95, 4)
    assert (row["load_before_percent"], row["load_after_percent"]) == (44.0, 40.0)


def test_mirrors_are_compared_across_logbooks(tmp_path: Path) -> None:
    """Each mirror of each logbook is a row with its hours."""
    for name, mirror, count in (("a", "first", 2), ("b", "second", 3)):
        story = Story(tmp_path / name)
        for _ in range(count):
            story.segment(mirror=mirror)
        story.writer.close()
    answer = compared.mirrors_compared([read(tmp_path / "a"), read(tmp_path / "b")])
    assert [(row["mirror"], row["segments"]) for row in answer.rows] == [("first", 2), ("second", 3)]


def compared_with(folder: Path, pace: float, **plan: Any) -> list[str]:
    """Two mirrors of one glass: the old one fades by exp(-0.3) a segment, the new one by exp(-0.3 * pace)."""
    books = []
    for name, rate, count in (("old", 0.3, 6), ("new", 0.3 * pace, 3)):
        story = Story(folder / name)
        story.plan |= {"mirror": name, "glass": "borosilicate 3.3", "last_abrasive_m": 5e-6}
        story.plan |= plan if name == "new" else {}
        for number in range(count + 1):
            level = 10 * math.exp(-rate * number)
            segment = story.segment(mirror=name, useful_turns=400.0)
            story.look(segment, mirror=name, **grey(*[level] * 5, level))
        story.writer.close()
        books.append(read(folder / name))
    return compared.mirrors_compared([books[1], books[0]]).sentences[2:]


@pytest.mark.parametrize(("pace", "verdict"), [(1.0, "level with it"), (1.5, "ahead"), (0.6, "behind")])
def test_a_mirror_is_ahead_of_or_behind_one_of_the_same_glass(
    tmp_path: Path, pace: float, verdict: str
) -> None:
    """At the same worst grey, by work for the area: faster fading is ahead."""
    (sentence,) = compared_with(tmp_path, pace)
    assert sentence.startswith("new beside old (same glass and grain): at worst grey")
    assert f"; {verdict}. " in sentence


def test_the_share_of_work_is_the_right_number(tmp_path: Path) -> None:
    """Four segments to a grey that the other had between its fifth and its sixth look, by a straight line."""
    (sentence,) = compared_with(tmp_path, 1.5)
    worst = 10 * math.exp(-0.45 * 3)
    high, low = (10 * math.exp(-0.3 * number) for number in (4, 5))
    needed = 5 + (high - worst) / (high - low)
    assert f"it has taken {4 / needed - 1:+.0%} work" in sentence


def test_mirrors_of_another_glass_are_not_compared(tmp_path: Path) -> None:
    """Another glass, or another last grain, is another job."""
    assert compared_with(tmp_path / "a", 1.0, glass="fused silica") == []
    assert compared_with(tmp_path / "b", 1.0, last_abrasive_m=9e-6) == []


def test_the_lagging_zone_is_told_with_its_beginning_and_the_change_before_it(tmp_path: Path) -> None:
    """Zone 1 lags since the look after the post was moved, and the move is named."""
    story = Story(tmp_path)
    story.number = 7
    story.look(story.segment(), **grey(5, 5, 5, 5, 6))
    story.segment()
    story.segment()
    story.look(story.segment(), **grey(4, 3, 3, 3, 3))
    story.look(story.segment(), **grey(3, 2, 2, 2, 2))
    story.writer.close()
    answer = trends.lagging(read(tmp_path))
    assert answer.sentences == [
        "Zone 1 lags since the look of 2026-03-01; changed before it: segment 3 offset 128 to 131 mm."
    ]
    assert trends.lagging(read(tmp_path), "inch").sentences == [
        "Zone 1 lags since the look of 2026-03-01; changed before it: segment 3 offset 5.04 to 5.16 in."
    ]


def test_pits_decide_over_grey_once_all_zones_are_counted(tmp_path: Path) -> None:
    """Grey says all are done, pits say the edge is not."""
    story = Story(tmp_path)
    zones = [{"grey": 0.0, "pits": [pits] * 3} for pits in (0, 0, 0, 1, 3)]
    story.look(story.segment(), zones=zones, edge={"grey": 0.0, "pits": [7]})
    story.writer.close()
    assert trends.lagging(read(tmp_path)).sentences[0].startswith("The last 5 mm lags")


def test_nobody_looked_is_an_answer() -> None:
    """An empty logbook is answered in words."""
    assert trends.lagging(Logbook()).sentences == ["Nobody has looked at the glass yet."]
    assert "cannot tell yet" in rates.rate(Logbook()).sentences[1]
    assert post_moves.post_moves(Logbook()).sentences == ["The post was not moved."]
    assert questions.work_done(Logbook()).sentences == ["No segment yet."]


def fade(story: Story, rates: list[float]) -> None:
    """One segment and one look for each rate: grey falls by exp(-rate) each time."""
    level = 10.0
    story.look(story.segment(useful_turns=400.0), **grey(*[level] * 5))
    for one in rates:
        level *= math.exp(-one)
        story.look(story.segment(useful_turns=400.0), **grey(*[level] * 5))
    story.writer.close()


def test_a_steady_rate_is_called_the_same_and_is_the_right_number(tmp_path: Path) -> None:
    """Grey falling by exp(-0.3) a segment of 400 useful turns is 0.3/9.69 per 1000 N m turns."""
    fade(Story(tmp_path), [0.3, 0.3, 0.3, 0.3])
    answer = rates.rate(read(tmp_path))
    assert answer.rows[0]["fading_mean"] == pytest.approx(0.3 / (189.3 * 0.128 * 400 / 1000), abs=1e-4)
    assert "100% of what it gave at first" in answer.sentences[1]
    assert "about the same as earlier" in answer.sentences[1]


def test_a_rate_that_fell_is_called_less(tmp_path: Path) -> None:
    """Half the fading for the same work is told, and what was done to the lap meanwhile."""
    story = Story(tmp_path)
    story.keep("note", {"text": "x", "lap_care": "charged"})
    fade(story, [0.4, 0.4, 0.2, 0.2])
    answer = rates.rate(read(tmp_path))
    assert "50% of what it gave at first" in answer.sentences[1]
    assert "less than earlier" in answer.sentences[1]
    assert answer.sentences[2] == "Meanwhile: lap charged 1 times."


def test_the_depth_of_a_segment_is_told_as_the_mechanics_have_it(tmp_path: Path) -> None:
    """Six segments of 0.20 and 0.24 um: the mean, and both halves."""
    story = Story(tmp_path)
    for depth in (0.20e-6, 0.20e-6, 0.20e-6, 0.24e-6, 0.24e-6, 0.24e-6):
        story.segment(zone_depths_m=[depth] * 6)
    story.writer.close()
    assert rates.rate(read(tmp_path)).sentences[0] == (
        "By the mechanics 0.220 µm a segment over 6 segments; 0.200 in the first half, 0.240 in the second."
    )


def test_a_fading_is_as_sure_as_its_scores(tmp_path: Path) -> None:
    """ln 2 from grey 8 to 4; its error by the rule of propagation, with 0.3 for each score."""
    story = Story(tmp_path)
    story.look(story.segment(), **grey(8, 8, 8, 8, 8))
    story.look(story.segment(), **grey(4, 4, 4, 4, 0.5))
    story.writer.close()
    found = rates.fading(*read(tmp_path).of_kind("inspection"), pits=False)
    assert sorted(found) == ["1", "2", "3", "4"]
    assert found["1"].value == pytest.approx(math.log(2))
    luck = np.random.default_rng(1)
    tried = np.log((8 + luck.normal(0, 0.3, 10**5)) / (4 + luck.normal(0, 0.3, 10**5)))
    assert found["1"].error == pytest.approx(tried.std(), rel=0.02)


def moved(folder: Path, predicted: Any, last: list[float]) -> str:
    """A post moved out after two looks, with a decision; the sentence that tells of it."""
    story = Story(folder)
    story.number = 7
    story.look(story.segment(), **grey(9, 9, 9, 9, 9))
    story.look(story.segment(), **grey(*[9 * math.exp(-0.6)] * 5))
    story.keep("decision", {"decision": "post 3 mm out", "predicted": predicted})
    story.look(story.segment(), **grey(*last))
    story.writer.close()
    (sentence,) = post_moves.post_moves(read(folder)).sentences
    return sentence


def test_a_post_move_is_told_with_its_prediction_and_what_was_seen(tmp_path: Path) -> None:
    """Zone 1 faded by 0.9 and the others by 0.6: beside their mean of 0.66 that is +36 % and -9 %."""
    level = 9 * math.exp(-0.6)
    last = [level * math.exp(-0.9), *[level * math.exp(-0.6)] * 4]
    sentence = moved(tmp_path, "inner zones +10 %", last)
    assert sentence.startswith(
        "Segment 3: post 3 mm out; predicted: inner zones +10 %; seen beside the mean: "
    )
    assert "zone 1 +36 % (" in sentence.replace("%", " %")
    assert "zone 2 -9 % (" in sentence.replace("%", " %")


@pytest.mark.parametrize(
    ("foretold", "true", "verdict"),
    [
        (-0.9, 0.0, "not as predicted in zone 1"),
        (0.0, 0.0, "the scores scatter more than was predicted, so they cannot tell"),
        (-0.9, -0.9, "as predicted"),
    ],
)
def test_a_prediction_in_figures_is_judged(
    tmp_path: Path, foretold: float, true: float, verdict: str
) -> None:
    """Two standard errors apart is not as predicted; a change smaller than the scatter cannot be told."""
    level = 9 * math.exp(-0.6)
    last = [level * math.exp(-0.6 * (1 + true)), *[level * math.exp(-0.6)] * 4]
    predicted = {"zones": [foretold, 0.0, 0.0, 0.0, 0.0], "edge": None}
    assert moved(tmp_path, predicted, last).endswith(f"; {verdict}.")


def test_a_prediction_is_compared_beside_the_mean_of_the_zones() -> None:
    """All zones 10 % more is no change beside their mean; the last 5 mm stand beside the same mean."""
    plain = post_moves.predicted_by_zone({"zones": [0.1] * 5, "edge": 0.21})
    assert list(plain.values()) == pytest.approx([0.0] * 5 + [0.1])
    assert post_moves.predicted_by_zone("in words") == {}
    assert post_moves.predicted_by_zone(None) == {}


def test_rank_correlation_is_spearmans() -> None:
    """Agrees with SciPy's spearmanr, ties included."""
    luck = np.random.default_rng(1)
    for _ in range(20):
        pairs = [(float(a), float(b)) for a, b in luck.integers(0, 6, (15, 2))]
        expected = stats.spearmanr(pairs).statistic
        assert room.rank_correlation(pairs) == pytest.approx(expected, abs=1e-12)
    assert room.rank_correlation([(1.0, 2.0), (1.0, 3.0)]) is None


def test_spin_that_follows_the_room_is_told(tmp_path: Path) -> None:
    """Spin that falls as the room warms goes together with it; humidity that stayed the same says nothing."""
    story = Story(tmp_path)
    for number in range(12):
        story.plan["room_temperature_c"] = 18.0 + number / 2
        story.segment(spin_ratio_mean=0.95 - 0.01 * number)
    story.writer.close()
    warmth, pace, humidity, _ = room.room(read(tmp_path)).sentences
    assert warmth.endswith("rank correlation -1.00 over 12 segments; they go together.")
    assert pace == "Progress and room temperature: cannot tell yet (0 looks with both, 10 needed)."
    assert "did not vary" in humidity


def test_progress_that_follows_the_room_is_told(tmp_path: Path) -> None:
    """A lap that takes ever more as the room cools: progress and temperature go against each other."""
    story, level = Story(tmp_path), 10.0
    for number in range(12):
        story.plan["room_temperature_c"] = 24.0 - number / 2
        level *= math.exp(-0.05 - 0.01 * number)
        story.look(story.segment(useful_turns=400.0), **grey(*[level] * 5))
    story.writer.close()
    _, pace, _, _ = room.room(read(tmp_path)).sentences
    assert pace == ("Progress and room temperature: rank correlation -1.00 over 11 looks; they go together.")


def test_a_few_segments_say_nothing_of_the_room(tmp_path: Path) -> None:
    """Below ten segments the answer is that it cannot be told yet."""
    story = Story(tmp_path)
    for number in range(9):
        story.plan["room_temperature_c"] = 18.0 + number / 2
        story.segment(spin_ratio_mean=0.95 - 0.01 * number)
    story.writer.close()
    assert "cannot tell yet (9 segments" in room.room(read(tmp_path)).sentences[0]
