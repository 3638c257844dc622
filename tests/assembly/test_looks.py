"""Looks at the glass of a bench: kept with their segment, due until somebody has looked, across a restart."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.assembly.build import Parts, build_simulated
from benchctl.assembly.looks import last_look, look_due, save_look
from benchctl.logbook.reader import read
from benchctl.logbook.segments import inspections, segments
from benchctl.models.job import demo_job
from tests.stories.stages import Told

GREY = {"zones": [{"grey": 9.0}] * 5, "edge": {"grey": 9.0}}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A logbook with one segment after which nobody looked."""
    Told(tmp_path, minutes=2.0).play()
    return tmp_path


def bench(folder: Path) -> Parts:
    """The next start on this logbook."""
    return build_simulated(demo_job(), folder, seed=1, stepped=True)


def test_a_look_that_was_put_off_is_due_at_the_next_start_until_it_is_kept(folder: Path) -> None:
    """It belongs to the segment it followed, though another program enters it."""
    parts = bench(folder)
    assert look_due(parts) == "Glass not looked at since segment 1: key 3 asks again"
    assert last_look(parts) is None
    assert save_look(parts, GREY) == "Kept in the logbook."
    assert look_due(parts) == ""
    before = last_look(parts)
    assert before is not None
    assert before["zones"][0]["grey"] == 9.0
    parts.close()
    (look,) = inspections(read(folder))
    assert look.fields["segment"] == segments(read(folder))[0].id
    assert look.fields["mirror"] == "Bench demo 460"
    again = bench(folder)
    assert look_due(again) == ""
    again.close()


@pytest.mark.parametrize(
    ("look", "said"),
    [
        (
            GREY | {"edge": {"grey": 11.0}},
            "Not kept: edge.grey: 11 must be at most 10; change it and try again",
        ),
        (
            GREY | {"blemishes": [{"kind": "chip", "angle_deg": 3.0, "radius_m": 0.4}]},
            "Not kept: a chip 400 mm from the centre lies beside the mirror; its rim is at 230 mm: "
            "correct the radius",
        ),
    ],
)
def test_a_look_that_cannot_be_is_refused_with_nothing_written(
    folder: Path, look: dict[str, object], said: str
) -> None:
    """One sentence; the logbook stays as it was, and the look stays due."""
    parts = bench(folder)
    before = (folder / "logbook.jsonl").read_bytes()
    assert save_look(parts, look) == said
    assert (folder / "logbook.jsonl").read_bytes() == before
    assert look_due(parts)
    parts.close()


def test_a_disk_that_refuses_is_said(folder: Path) -> None:
    """The look waits in memory and is on disk once there is room again."""
    parts = bench(folder)
    parts.disk.full = True
    assert save_look(parts, GREY).startswith("The disk does not take it yet")
    parts.disk.full = False
    assert parts.close() == 0
    assert len(inspections(read(folder))) == 1
