"""Whatever describes a software stop says what it is not; the cautions are where they should be."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
PAGES = sorted([*ROOT.glob("docs/*.md"), ROOT / "README.md"])


def words_of(page: Path) -> str:
    """A page's text on one line."""
    return " ".join(page.read_text(encoding="utf-8").split())


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_page_that_describes_a_stop_says_what_it_is_not(page: Path) -> None:
    """Each page that names STOP or a controlled stop says that it is not a safety-rated function."""
    text = words_of(page)
    if re.search(r"\bSTOP\b|controlled stop", text):
        assert re.search(r"(not|nothing|no|is) (here )?(is )?a? ?safety-rated function", text, re.IGNORECASE)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_page_claims_a_rating(page: Path) -> None:
    """No safety integrity level and no performance level is claimed anywhere."""
    assert not re.search(r"\b(SIL|PL)[ -]?[1-4a-e]\b|\bASIL\b", words_of(page))


def test_no_stop_of_the_program_is_called_an_emergency_stop() -> None:
    """In words that the program prints, the emergency stop is always the one on the machine."""
    for path in ROOT.glob("benchctl/**/*.py"):
        for line in path.read_text(encoding="utf-8").splitlines():
            if re.search(r"\bSTOP\b.*\b(is|are) an? emergency", line):
                pytest.fail(f"{path.name}: {line.strip()}")


def test_the_cautions_are_complete() -> None:
    """README holds a caution for each danger of the work, and the page on safety leads there."""
    text = words_of(ROOT / "README.md").partition("## Cautions")[2]
    for danger in (
        "mains",
        "hard-wired emergency stop",
        "Lifting",
        "edges",
        "Dust",
        "pitch",
        "Light",
        "drains",
    ):
        assert danger in text
    assert "Unattended running" in text
    assert "local codes" in text
    assert "README.md#cautions" in words_of(ROOT / "docs" / "safety.md")
