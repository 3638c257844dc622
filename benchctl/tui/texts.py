"""The places that are pages of text, plan and logbook: asked beside the event loop, scrolled by keys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from benchctl.tui.places import Places

Work = Callable[[], None]
STEPS = {"up": -1, "down": 1, "pageup": -15, "pagedown": 15}


class Texts:
    """The texts as far as they have come. `aside` does what may take a while: at once, or in a thread."""

    def __init__(self, places: Places, aside: Callable[[Work], None] | None = None) -> None:
        self._sources = {"plan": places.plan, "logbook": places.logbook}
        self._aside = aside or (lambda work: work())
        self._asked: Counter[str] = Counter()
        self.lines: dict[str, list[str]] = {}
        self.scroll = 0

    def ask(self, place: str, units: str) -> None:
        """Have the text of this place made anew; until it has come, what was there before stays."""
        if place not in self._sources:
            return
        self._asked[place] += 1
        number = self._asked[place]
        self.lines.setdefault(place, ["One moment ..."])

        def work() -> None:
            try:
                found = self._sources[place](units)
            except Exception as error:  # noqa: BLE001 - a page that fails must not stop the table
                found = [f"This page failed, the bench goes on: {type(error).__name__}: {error}"]
            if number == self._asked[place]:
                self.lines[place] = found

        self._aside(work)

    def key(self, place: str, key: str) -> bool:
        """Take a key that scrolls; False where it does not."""
        if place not in self._sources or key not in STEPS:
            return False
        self.scroll = max(0, self.scroll + STEPS[key])
        return True
