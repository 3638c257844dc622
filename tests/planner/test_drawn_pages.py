"""The pages on mechanics and planning show what the programs draw, and all of it."""

from __future__ import annotations

import re
import runpy
from collections.abc import Callable
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def drawn_by(program: str) -> dict[str, Callable[[], str]]:
    """The pictures of one program, by the name of their file."""
    pictures: dict[str, Callable[[], str]] = runpy.run_path(str(DOCS / "pictures" / program))["PICTURES"]
    return pictures


PAGES = {"physics.md": drawn_by("make_physics.py"), "planning.md": drawn_by("make_planning.py")}
PIXELS = {"physics.md": 0.5, "planning.md": 6.0}
"""How far a line may lie from where it was drawn: what is reckoned from particles wanders a little."""


@pytest.mark.parametrize(("page", "name"), [(page, name) for page, drawn in PAGES.items() for name in drawn])
def test_a_picture_is_what_the_program_draws(page: str, name: str) -> None:
    """Each picture kept in the docs is the one drawn today, to a few pixels."""
    kept, drawn = (DOCS / "pictures" / name).read_text(encoding="utf-8"), PAGES[page][name]()

    assert NUMBER.sub("#", kept) == NUMBER.sub("#", drawn)
    assert [float(n) for n in NUMBER.findall(kept)] == pytest.approx(
        [float(n) for n in NUMBER.findall(drawn)], abs=PIXELS[page]
    )


@pytest.mark.parametrize("page", PAGES)
def test_the_page_shows_every_picture(page: str) -> None:
    """The page shows each picture that is drawn, and no other."""
    shown = re.findall(r"\(pictures/([^)]+)\)", (DOCS / page).read_text(encoding="utf-8"))

    assert sorted(shown) == sorted(PAGES[page])
