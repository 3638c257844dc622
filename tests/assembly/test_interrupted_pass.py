"""After an interruption the pass of marks goes on: the mark is used up or offered again, as the rule says."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.assembly.build import build_simulated
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job
from tests.logbook.books import AT, PLAN, Story


def cut_off(folder: Path, turns: float) -> None:
    """A logbook whose last segment, at mark 7 of 13, was cut off after so many of its 416 turns."""
    story = Story(folder)
    story.keep("mark_draw", {"mark": 7, "mark_count": 13, "method": "balanced", "mirror": PLAN["mirror"]})
    segment = story.keep("segment_start", PLAN | {"mark": 7, "post_offset_m": 0.128, "simulated": True})
    done = {"polishing_s": 60 * turns / 26, "table_turns": turns, "lap_turns": turns, "useful_turns": turns}
    story.writer.progress(segment, done, at=AT, mono_s=900.0)
    story.writer.close()


@pytest.mark.parametrize(("turns", "again"), [(60.0, True), (300.0, False)])
def test_a_mark_cut_off_is_offered_again_unless_a_third_was_run(
    tmp_path: Path, turns: float, again: bool
) -> None:
    """Below a third of the planned turns the same mark comes again; above, it is used up in this pass."""
    cut_off(tmp_path, turns)
    parts = build_simulated(demo_job(), tmp_path, seed=1, stepped=True, draw_marks=True)
    assert "at mark 7 had run" in parts.runner.facts.recovered
    mark = parts.runner.facts.mark
    parts.close()
    assert (mark == 7) is again
    (interrupted,) = read(tmp_path).of_kind("segment_interrupted")
    assert (interrupted.fields["mark"], interrupted.fields["table_turns"]) == (7, turns)
