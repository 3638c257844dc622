"""The page on planning shows what the program draws, and all of it."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
DRAWN = runpy.run_path(str(DOCS / "pictures" / "make_planning.py"))["PICTURES"]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_is_what_the_program_draws(name: str) -> None:
    """Each picture kept in the docs is the one drawn today, to a few pixels."""
    kept, drawn = (DOCS / "pictures" / name).read_text(encoding="utf-8"), DRAWN[name]()

    assert NUMBER.sub("#", kept) == NUMBER.sub("#", drawn)
    assert [float(n) for n in NUMBER.findall(kept)] == pytest.approx(
        [float(n) for n in NUMBER.findall(drawn)], abs=6.0
    )


def test_the_page_shows_every_picture() -> None:
    """The page shows each picture that is drawn, and no other."""
    shown = re.findall(r"\(pictures/([^)]+)\)", (DOCS / "planning.md").read_text(encoding="utf-8"))

    assert sorted(shown) == sorted(DRAWN)
