"""The pictures in the handbook show the screen as it is now."""

from __future__ import annotations

import asyncio
import re

import pytest

from benchctl.tui.pages import OTHER_KEYS
from benchctl.tui.signs import KEY_OF
from tests.tui.pictures import FOLDER, PICTURES, TEXTS, as_text, drawn


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: str(picture[0]))
def test_no_picture_has_aged(picture: tuple) -> None:  # type: ignore[type-arg]
    """Each picture's text is what the screen shows; else `python -m tests.tui.pictures` makes them anew."""
    name, snapshot, keys, size, dark = picture
    assert (FOLDER / f"{name}.png").exists()
    _, rows = asyncio.run(drawn(snapshot, keys, size, dark))
    kept = (FOLDER / TEXTS).read_text(encoding="utf-8")
    assert as_text(name, rows) in kept, "run: python -m tests.tui.pictures"


PAGES = (FOLDER.parent / "screen.md", FOLDER.parent / "first-evening.md")


def test_every_picture_is_shown_in_the_handbook() -> None:
    """No picture lies about unseen, and none is missing."""
    pages = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    shown = set(re.findall(r"pictures/((?:screen|polish)-[\w-]+)\.png", pages))
    assert shown == {picture[0] for picture in PICTURES}


def test_the_handbook_names_every_key() -> None:
    """The table of keys has each key with the name that stands on the screen, and no other."""
    table = PAGES[0].read_text(encoding="utf-8").split("\n## ")[0]
    rows = re.findall(r"^\| (\S[^|]*?) \| (\S[^|]*?) \|", table, re.M)[2:]
    named: dict[str, str] = {}
    for keys, names in rows:
        pairs = re.fullmatch(r"(\S), (\S)", keys)
        named |= dict(zip(pairs.groups(), names.split(", "), strict=True)) if pairs else {keys: names}
    assert named == dict(KEY_OF.values()) | {key: name for key, name, _ in OTHER_KEYS}
