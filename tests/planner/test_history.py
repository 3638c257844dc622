"""The work on one mirror, taken from the logbook's records as they come."""

from __future__ import annotations

from typing import Any

from benchctl.planner.history import History
from tests.planner.demo_story import history, records

SEGMENT: dict[str, Any] = {
    "mirror": "M", "load_n": 180.0, "post_offset_m": 0.128, "useful_turns": 400.0, "work_rpm": 26.0,
    "spin_ratio_mean": 0.91, "load_mean_percent": 40.0, "lap_states_share": {"jerky": 0.1, "steady": 0.9},
}  # fmt: skip
RING = {"grey": 3.0, "pits": [4, "too many"], "laser_spot": 2}
LOOK = {"mirror": "M", "zones": [RING] * 5, "edge": {"grey": 5.0}}


def taken(*some: tuple[str, dict[str, Any]]) -> History:
    """A history of these records."""
    found = History("M")
    for kind, fields in some:
        found.take(kind, fields)
    return found


def test_a_segment_with_its_figures() -> None:
    """Load, offset, turns, spin, effort and the jerky share are taken as they were kept."""
    one = taken(("segment_end", SEGMENT)).segments[0]

    assert (one.number, one.load_n, one.post_offset_m, one.useful_turns) == (1, 180.0, 0.128, 400.0)
    assert (one.spin_ratio, one.load_percent, one.jerky_share) == (0.91, 40.0, 0.1)


def test_an_interrupted_segment_counts_as_far_as_it_came() -> None:
    """A segment that a power cut ended is in the work with the turns it had."""
    assert taken(("segment_interrupted", SEGMENT | {"useful_turns": 120.0})).segments[0].useful_turns == 120.0


def test_what_took_nothing_is_no_segment() -> None:
    """Refused, without turns, or without load or offset: not in the work."""
    nothing = ({"useful_turns": 0.0}, {"useful_turns": None}, {"load_n": None}, {"load_n": 0.0})
    for change in (*nothing, {"post_offset_m": "x"}):
        assert taken(("segment_end", SEGMENT | change)).done == 0


def test_another_mirrors_records_are_left_out() -> None:
    """Segments, looks and decisions of another mirror do not count."""
    other = {"mirror": "another"}
    found = taken(("segment_end", SEGMENT | other), ("inspection", LOOK | other), ("decision", other))

    assert (found.done, found.looks, found.decisions) == (0, [], [])


def test_a_look_belongs_after_the_segments_before_it() -> None:
    """A look says what the glass was like after the segments that came before it in the log."""
    found = taken(
        ("segment_end", SEGMENT), ("inspection", LOOK), ("segment_end", SEGMENT), ("inspection", LOOK)
    )

    assert [look.after for look in found.looks] == [1, 2]
    assert found.looks[0].rings[0].pits == (4, "too many")
    assert found.looks[0].rings[5].grey == 5.0


def test_a_look_that_cannot_be_is_passed_over() -> None:
    """A damaged look (a grey of 40) is left out and the rest stays."""
    assert taken(("inspection", LOOK | {"edge": {"grey": 40.0}}), ("inspection", LOOK)).done == 0
    assert len(taken(("inspection", LOOK | {"edge": {"grey": 40.0}}), ("inspection", LOOK)).looks) == 1


def test_care_of_the_lap_is_counted_from() -> None:
    """Segments since the lap was trimmed; all of them where it never was."""
    found = taken(("segment_end", SEGMENT), ("note", {"lap_care": "trimmed"}), ("segment_end", SEGMENT))

    assert found.segments_since_care("trimmed") == 1
    assert found.segments_since_care("remade") == 2


def test_as_it_was_earlier() -> None:
    """`until` gives the log as it stood then: segments, looks and decisions of later are gone."""
    early = history(12).until(9)

    assert early.done == 9
    assert [look.after for look in early.looks] == [2, 4, 6, 8]
    assert len(early.decisions) == 1


def test_the_whole_story_is_taken() -> None:
    """Every segment and look of the demo's story arrives."""
    kinds = [kind for kind, _ in records(26)]
    found = history(26)

    assert (found.done, len(found.looks)) == (kinds.count("segment_end"), kinds.count("inspection"))
