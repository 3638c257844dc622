"""What the watcher learned is used again for the very same set-up, and for no other."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchctl.assembly.build import build_simulated
from benchctl.assembly.lap_memory import learned, watcher
from benchctl.lapwatch import WatchSettings
from benchctl.logbook.reader import read
from benchctl.models.job import Job, demo_job, demo_job_text, parse_job
from tests.stories.stages import Told


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook with one completed demo segment."""
    folder = tmp_path_factory.mktemp("memory")
    Told(folder, minutes=3.0).play()
    return folder


def other(old: str, new: str) -> Job:
    return parse_job(demo_job_text().replace(old, new, 1).encode(), "job")


def test_the_same_setup_begins_with_what_was_learned(folder: Path) -> None:
    """Placement of the twelve targets and the usual ratio come back; the watcher starts with them."""
    memory = learned(read(folder), demo_job(), simulated=True)
    placement = memory["placement"]
    assert isinstance(placement, list)
    assert len(placement) == 12
    parts = build_simulated(demo_job(), folder, seed=2, stepped=True, draw_marks=True)
    assert parts.runner.watch.verdict.reference_ratio == pytest.approx(memory["reference_ratio"], rel=1e-6)
    parts.close()


@pytest.mark.parametrize(
    ("old", "new"),
    [('"128 mm"', '"131 mm"'), ('"2 kg"]', '"2.5 kg"]'), ('name = "310 plaster"', 'name = "another lap"')],
)
def test_another_offset_weight_or_lap_begins_with_nothing(folder: Path, old: str, new: str) -> None:
    """A change of post offset, weight or lap is another set-up."""
    assert learned(read(folder), other(old, new), simulated=True) == {}
    assert learned(read(folder), demo_job(), simulated=False) == {}


def test_a_memory_that_does_not_fit_is_left_aside() -> None:
    """Another number of targets, or nonsense, gives a watcher that learns anew."""
    settings = WatchSettings(6, 1e-6, 0.23, 0.155, 0.128)
    for memory in ({"placement": [1 / 12] * 12}, {"placement": "x"}, {"reference_ratio": -3}):
        assert watcher(settings, memory).verdict.state == "waiting"
