"""The plan place of the screen: the reckoning's lines, and the person's answer kept in the logbook."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from benchctl.assembly.job_so_far import earlier_mirrors, reckoning_of, so_far
from benchctl.assembly.reckoner import Reckoner
from benchctl.logbook.reader import read
from benchctl.models.job import demo_job
from tests.planner.demo_story import write_logbook


@pytest.fixture
def kept() -> list[tuple[str, dict[str, Any]]]:
    """What the journal was given."""
    return []


@pytest.fixture
def reckoner(tmp_path: Path, kept: list[tuple[str, dict[str, Any]]]) -> Reckoner:
    """A reckoner on the story after 20 segments."""
    write_logbook(tmp_path, 20)
    journal = SimpleNamespace(keep=lambda kind, fields: kept.append((kind, fields)))
    runner = SimpleNamespace(facts=SimpleNamespace(job=demo_job()), journal=journal)
    return Reckoner(SimpleNamespace(runner=runner, keeper=SimpleNamespace(folder=tmp_path)))  # type: ignore[arg-type]


def test_the_page_shows_what_is_left_and_the_suggestion(reckoner: Reckoner) -> None:
    """Ranges by ring, the suggestion with its reason, and how to answer it."""
    lines = reckoner.lines()

    assert lines[0].startswith("Zone 1 is last")
    assert lines[1].startswith("E: say yes or no")
    assert any(line.startswith("Suggestion: post") for line in lines)
    assert any("Zone 1 will be the last" in line for line in lines)


@pytest.mark.parametrize(
    ("said", "taken", "why"),
    [("yes", "accepted", ""), ("No, the edge is worse", "declined", "the edge is worse")],
)
def test_the_answer_is_kept_with_the_reason(
    reckoner: Reckoner, kept: list[tuple[str, dict[str, Any]]], said: str, taken: str, why: str
) -> None:
    """Yes or no, and why: a `decision` record with what was advised and foretold."""
    reckoner.lines()

    assert reckoner.decide(said).startswith("Kept: ")
    kind, fields = kept[0]
    assert (kind, fields["taken"], fields["why"], fields["act"]) == ("decision", taken, why, "post")
    assert len(fields["predicted"]["zones"]) == 5


def test_neither_yes_nor_no_is_not_kept(reckoner: Reckoner, kept: list[tuple[str, dict[str, Any]]]) -> None:
    """Any other word is refused in a sentence, and so is an answer to nothing."""
    assert reckoner.decide("yes").startswith("Not kept: no suggestion")
    reckoner.lines()
    assert reckoner.decide("perhaps").startswith("Not kept: begin with yes or no")
    assert kept == []


def test_it_reckons_anew_only_when_the_logbook_has_grown(
    reckoner: Reckoner, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opening the page again costs nothing while nothing was added."""
    first = reckoner.lines()
    monkeypatch.setattr("benchctl.assembly.job_so_far.reckoning_of", lambda *_: pytest.fail("reckoned again"))

    assert reckoner.lines() == first


def test_corrections_and_marks_are_in(tmp_path: Path) -> None:
    """The work so far counts 13 marks used and a pass that ends in 6, and the last segment's id."""
    write_logbook(tmp_path, 20)
    found = so_far(read(tmp_path), demo_job())

    assert (found.history.done, found.pass_ends_in) == (20, 6)
    assert found.last_segment


def test_a_coefficient_is_carried_only_from_the_same_glass_and_compound(tmp_path: Path) -> None:
    """An earlier mirror counts when its segments say the same glass and compound and their sizes."""
    write_logbook(tmp_path, 24, mirror="an earlier one")
    book = read(tmp_path)
    other = demo_job().model_copy(
        update={"charge": demo_job().charge.model_copy(update={"compound": "zirconia"})}
    )

    assert len(earlier_mirrors(demo_job(), [book])) == 1
    assert earlier_mirrors(other, [book]) == []
    carried = reckoning_of(demo_job(), so_far(book, demo_job()), [book]).prior
    assert carried.preston_spread < reckoning_of(demo_job(), so_far(book, demo_job())).prior.preston_spread
