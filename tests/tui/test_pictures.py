"""The pictures in the handbook show the screen as it is now."""

from __future__ import annotations

import asyncio

import pytest

from tests.tui.pictures import FOLDER, PICTURES, TEXTS, as_text, drawn


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: str(picture[0]))
def test_no_picture_has_aged(picture: tuple) -> None:  # type: ignore[type-arg]
    """Each picture's text is what the screen shows; else `python -m tests.tui.pictures` makes them anew."""
    name, snapshot, keys, size, dark = picture
    assert (FOLDER / f"{name}.png").exists()
    _, rows = asyncio.run(drawn(snapshot, keys, size, dark))
    kept = (FOLDER / TEXTS).read_text(encoding="utf-8")
    assert as_text(name, rows) in kept, "run: python -m tests.tui.pictures"
