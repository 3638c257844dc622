"""The page on a whole sitting shows the screen as it is and types what is taken."""

from __future__ import annotations

import re
from pathlib import Path

from benchctl.logbook.look_words import look_of
from tests.tui.pictures import PICTURES

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "at-the-bench.md").read_text(encoding="utf-8")


def test_every_picture_is_one_that_is_made_from_the_screen() -> None:
    """Each has its name among those that `python -m tests.tui.pictures` makes, and lies there."""
    shown = re.findall(r"\(pictures/([\w-]+)\.png\)", PAGE)
    assert len(shown) > 12
    assert set(shown) <= {picture[0] for picture in PICTURES}
    assert all((DOCS / "pictures" / f"{name}.png").exists() for name in shown)


def test_the_look_that_is_typed_there_is_taken() -> None:
    """The example of a look in words is one."""
    (typed,) = re.findall(r"benchctl logbook look --logbook FILE (.*)", PAGE)
    look = look_of(typed.split())
    assert [zone.grey for zone in look.zones] == [9.0, 8.0, 7.0, 7.0, 8.0]
    assert look.blemishes[0].kind == "sleek"


def test_every_page_that_is_named_is_there() -> None:
    """No link leads nowhere."""
    for name in re.findall(r"\]\(([\w-]+\.md)\)", PAGE):
        assert (DOCS / name).exists(), name
