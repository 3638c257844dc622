"""What the screen's places are told by the rest of the house, on a real bench and a real logbook."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.assembly.build import build_simulated
from benchctl.cli import main
from benchctl.cli.places import places_for
from benchctl.models.job import demo_job_text, parse_job
from benchctl.models.preferences import Preferences
from benchctl.tui.places import Places
from benchctl.units import INCH, METRIC


@pytest.fixture
def places(tmp_path: Path) -> Places:
    """The places of a bench whose logbook has one segment of the demo job, and whose post was moved since."""
    book = tmp_path / "book"
    asked = ["run", "demo", "--headless", "--simulated", "--pace", "max", "--minutes", "2"]
    assert main([*asked, "--logbook", str(book)]) == 0
    text = demo_job_text().replace('post_offset = "128 mm"', 'post_offset = "131 mm"')
    job = parse_job(text.encode(), "the moved job").with_minutes(2.0)
    parts = build_simulated(job, book, seed=1, stepped=True, draw_marks=True)
    try:
        return places_for(parts, Preferences())
    finally:
        parts.close()


def test_differences_come_from_the_last_record(places: Places) -> None:
    """The post that was moved is told with the place that the logbook's last segment had."""
    assert places.differences(METRIC) == ["post at 131 mm, was 128 mm"]
    assert places.differences(INCH) == ["post at 5.16 in, was 5.04 in"]


def test_plan_and_logbook_are_whole_pages(places: Places) -> None:
    """The plan's place has the plan in the units chosen; the logbook's place lists the segment."""
    plan = "\n".join(places.plan(INCH))
    assert "18.11 in" in plan
    assert "OFFSETS AROUND THE MOST EVEN ONE" in plan
    book = places.logbook(METRIC)
    assert book[0].startswith("1 segment: 0.0 h polished")
    assert any(line.startswith("1*") and "completed" in line for line in book)


def test_the_usual_targets_have_no_blind_spot(places: Places) -> None:
    """Twelve targets on the lap show all; so nothing is said of them."""
    assert places.blind_spot() == ""
    assert [piece.mass_kg for piece in places.pieces] == [2.5] * 4 + [2.0] * 2
