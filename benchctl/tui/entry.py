"""Typing in a look at the glass: zone by zone from the centre to the edge, always in this order. Pure.

A step is one number: the grey of a zone (0 none to 10 as fine ground), and where pits are counted, the
pits in one field of the loupe. Enter alone leaves it out. The order and the scale are common practice.
"""

from __future__ import annotations

from typing import Any, NamedTuple

ZONES = ("zone 1, inmost", "zone 2", "zone 3, middle", "zone 4", "zone 5, outmost", "last 5 mm of the rim")
SHORT = ("ZONE 1", "ZONE 2", "ZONE 3", "ZONE 4", "ZONE 5", "LAST 5 MM")
MOST_GREY = 10.0
MOST_PITS = 50


class Step(NamedTuple):
    """One number that is asked for."""

    zone: int
    what: str
    """grey or pits."""


class LookEntry:
    """The numbers typed so far. `key` takes a key; `over` is true when every step has been taken."""

    def __init__(self, pits: bool = False) -> None:
        self._pits = pits
        self.steps = [Step(z, what) for z in range(len(ZONES)) for what in ("grey", "pits")[: 1 + pits]]
        self.values: list[float | str | None] = []
        self.typed = ""
        self.said = ""

    @property
    def over(self) -> bool:
        """Whether every step has been taken."""
        return len(self.values) == len(self.steps)

    @property
    def begun(self) -> bool:
        """Whether anything was typed or taken."""
        return bool(self.values or self.typed)

    @property
    def step(self) -> Step:
        """The step that is asked for now."""
        return self.steps[min(len(self.values), len(self.steps) - 1)]

    def key(self, key: str, character: str) -> bool:
        """Take a key; False where it means nothing here."""
        if self.over:
            return False
        self.said = ""
        if key == "enter":
            self._take()
        elif key == "backspace":
            self._back()
        elif character.isdigit() or character == ".":
            self.typed = (self.typed + character)[:5]
        elif character.lower() == "m" and self.step.what == "pits":
            self.values.append("too many")
            self.typed = ""
        else:
            return False
        return True

    def _back(self) -> None:
        if self.typed:
            self.typed = self.typed[:-1]
        elif self.values:
            self.values.pop()

    def _take(self) -> None:
        text, self.typed = self.typed, ""
        if not text:
            self.values.append(None)
            return
        grey = self.step.what == "grey"
        try:
            value = float(text) if grey else int(text)
        except ValueError:
            self.said = f"'{text}' is not a number; type it again"
            return
        if value > (MOST_GREY if grey else MOST_PITS):
            self.said = (
                f"Grey is 0 to {MOST_GREY:g}, not {text}; type it again"
                if grey
                else f"Pits are counted up to {MOST_PITS}, not {text}; M means too many"
            )
            return
        self.values.append(value)

    def grey(self, zone: int) -> float | str | None:
        """The grey of a zone; "" while it has not been asked."""
        return self._value(Step(zone, "grey"))

    def pits(self, zone: int) -> float | str | None:
        """The pits of a zone; "" while they have not been asked."""
        return self._value(Step(zone, "pits"))

    def _value(self, step: Step) -> float | str | None:
        if step not in self.steps or self.steps.index(step) >= len(self.values):
            return ""
        return self.values[self.steps.index(step)]

    def look(self) -> dict[str, Any]:
        """What was seen: five greys, the rim's, and the pits where they were asked."""
        greys = [self.grey(zone) for zone in range(len(ZONES))]
        found: dict[str, Any] = {"zones": greys[:5], "edge": greys[5]}
        if self._pits:
            found["pits"] = [self.pits(zone) for zone in range(len(ZONES))]
        return found
