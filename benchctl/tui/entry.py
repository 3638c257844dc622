"""Typing in a look at the glass with one hand, always in the same order. Pure: keys in, a look out.

One instrument after the other (lamp behind a mask, loupe, laser, lamp at an angle), each from the inmost
zone to the rim, so that the other hand need not lay it down in between; then the temperatures, then what
was found and where. Every step is digits and Enter; Enter alone leaves it out. The order is common
practice.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from benchctl.units import INCH, TEMPERATURE, in_system, read

ZONES = ("zone 1, inmost", "zone 2", "zone 3, middle", "zone 4", "zone 5, outmost", "last 5 mm")
SHORT = ("ZONE 1", "ZONE 2", "ZONE 3", "ZONE 4", "ZONE 5", "LAST 5 MM")
KINDS = ("sleek", "scratch", "pit", "stain", "dried compound", "chip", "other")
"""Kinds of blemish, by the digits from 1."""
FIELDS = 3
_KINDS = ", ".join(f"{number} {kind}" for number, kind in enumerate(KINDS, 1)) + "."
TOO_MANY = "too many"
MOST_BLEMISHES = 50
INCH_M, MM_M = 0.0254, 0.001


class Ask(NamedTuple):
    """What one kind of step asks for, and what it takes."""

    what: str
    unit: str
    low: float
    high: float
    whole: bool
    help: str
    needed: bool = False


ASKS: dict[str, Ask] = {
    "grey": Ask("Grey", "", 0, 10, False, "0 none, 10 as fine ground; lamp behind its mask."),
    "pits": Ask("Pits", "", 0, 50, True, "Count one field of the loupe, up to three a zone; M: too many."),
    "laser": Ask("Laser", "", 0, 3, True, "0 no spot, 1 just seen, 2 fainter than at the back, 3 equal."),
    "lamp": Ask("Lamp", "deg", 0.5, 90, False, "Steepest angle at which the lamp's image still holds."),
    "glass": Ask("Glass", "degC", -10, 80, False, "Temperature of the glass."),
    "room": Ask("Room", "degC", -10, 50, False, "Temperature of the room."),
    "humidity": Ask("Humidity", "%", 0, 100, False, "Relative humidity of the room."),
    "kind": Ask("Blemish", "", 1, len(KINDS), True, _KINDS),
    "angle": Ask("Angle", "deg", 0, 359.9, False, "Clockwise from mark 1, from the front: 90 is at 3.", True),
    "radius": Ask("Radius", "mm", 0, 1500, False, "From the centre of the mirror.", True),
    "length": Ask("Length", "mm", 0, 3000, False, "How long it is."),
    "keep": Ask("Keep", "", 0, 0, True, "see that it is all there."),
}  # fmt: skip
SCORES = ("grey", "pits", "laser", "lamp")
ROOM = ("glass", "room", "humidity")
BLEMISH = ("kind", "angle", "radius", "length")
_NEXT_PART = {"grey": "pits", "pits": "laser", "laser": "lamp", "lamp": "glass"} | dict.fromkeys(ROOM, "kind")


class Step(NamedTuple):
    """One number that is asked for: of a zone (0 to 5), or of a blemish (from 0)."""

    part: str
    place: int = 0
    field: int = 0


Value = float | str | None


def following(step: Step, value: Value) -> Step:
    """The step after this one, given what was answered."""
    part, place, field = step
    if part == "pits" and isinstance(value, int) and field + 1 < FIELDS:
        return Step(part, place, field + 1)
    if part in SCORES:
        return Step(part, place + 1) if place + 1 < len(ZONES) else Step(_NEXT_PART[part])
    if part in ROOM[:-1]:
        return Step(ROOM[ROOM.index(part) + 1])
    if part == "kind":
        return Step("keep") if value is None else Step("angle", place)
    if part == "length":
        return Step("kind", place + 1) if place + 1 < MOST_BLEMISHES else Step("keep")
    return Step(BLEMISH[BLEMISH.index(part) + 1], place) if part in BLEMISH else Step("kind")


class LookEntry:
    """The numbers typed so far. `key` takes a key; `over` is true once the whole look was told to be kept."""

    def __init__(self, inches: bool = False) -> None:
        self._inches = inches
        self.step = Step("grey")
        self.taken: list[tuple[Step, Value]] = []
        self.typed = ""
        self.said = ""
        self.over = False

    @property
    def begun(self) -> bool:
        """Whether anything was typed or taken."""
        return bool(self.taken or self.typed)

    @property
    def ask(self) -> Ask:
        """What the step asks for, lengths and temperatures in the person's own unit."""
        ask = ASKS[self.step.part]
        if self._inches and ask.unit == "mm":
            return ask._replace(unit="in", high=round(ask.high * MM_M / INCH_M, 1))
        if self._inches and ask.unit == "degC":
            low, high = (round(in_system(one, TEMPERATURE, INCH), 1) for one in (ask.low, ask.high))
            return ask._replace(unit="degF", low=low, high=high)
        return ask

    def key(self, key: str, character: str) -> bool:
        """Take a key; False where it means nothing here."""
        if self.over:
            return False
        self.said = ""
        letter = character.lower()
        if key == "enter":
            self._enter()
        elif key == "backspace":
            self._back()
        elif (character.isdecimal() or character in (".", "-")) and self.step.part != "keep":
            self.typed = (self.typed + character)[:6]
        elif letter in ("m", "+") and self.step.part == "pits":
            self._go(TOO_MANY)
        elif (key == "tab" or letter == "*") and self.step.part in _NEXT_PART:
            self._leap(Step(_NEXT_PART[self.step.part]))
        elif letter in ("e", "/") and self.step.part in (*_NEXT_PART, "kind"):
            self._leap(Step("keep"))
        else:
            return False
        return True

    def _enter(self) -> None:
        if self.step.part == "keep":
            self.over = self._anything()
            self.said = "" if self.over else "Nothing was looked at: Backspace goes back, P puts the look off"
        elif self.typed:
            self._take()
        elif self.ask.needed:
            self.said = f"{self.ask.what} is wanted; Backspace goes back and leaves the blemish out"
        else:
            self._go(None)

    def _anything(self) -> bool:
        return any(value is not None for step, value in self.taken if step.part in (*SCORES, "kind"))

    def _take(self) -> None:
        text, self.typed = self.typed, ""
        ask = self.ask
        try:
            value = int(text) if ask.whole else float(text)
        except ValueError:
            self.said = f"'{text}' is not a {'whole ' if ask.whole else ''}number; type it again"
            return
        if ask.low <= value <= ask.high:
            self._go(value)
            return
        unit = f" {ask.unit}" if ask.unit else ""
        again = "M means too many" if self.step.part == "pits" else "type it again"
        self.said = f"{ask.what} is {ask.low:g} to {ask.high:g}{unit}, not {text}; {again}"

    def _go(self, value: Value) -> None:
        self.typed = ""
        self.taken.append((self.step, value))
        self.step = following(self.step, value)

    def _leap(self, step: Step) -> None:
        self.typed = ""
        self.taken.append((self.step, None))
        self.step = step

    def _back(self) -> None:
        if self.typed:
            self.typed = self.typed[:-1]
        elif self.taken:
            self.step, _ = self.taken.pop()

    def refused(self, said: str) -> None:
        """It could not be kept: nothing typed is lost, and `said` tells why."""
        self.over, self.said = False, said

    # What was seen

    def value(self, part: str, place: int = 0) -> Value:
        """What was answered to a step; None where it was left out or has not been asked."""
        return next((value for step, value in self.taken if step == Step(part, place)), None)

    def pits(self, zone: int) -> list[float | str]:
        """The counts of a zone, one a field."""
        return [v for step, v in self.taken if step[:2] == ("pits", zone) and v is not None]

    def blemishes(self) -> list[dict[str, Any]]:
        """The blemishes whose place is known, in SI."""
        found = []
        for number in range(MOST_BLEMISHES):
            kind, angle, radius, length = (self._number(part, number) for part in BLEMISH)
            if kind is None or angle is None or radius is None:
                break
            blemish: dict[str, Any] = {"kind": KINDS[int(kind) - 1], "angle_deg": angle}
            blemish["radius_m"] = self._metres(radius)
            if length is not None:
                blemish["length_m"] = self._metres(length)
            found.append(blemish)
        return found

    def _number(self, part: str, place: int = 0) -> float | None:
        value = self.value(part, place)
        return value if isinstance(value, int | float) else None

    def zone(self, zone: int) -> dict[str, Any]:
        """One zone under the names of the logbook; what was not looked at is left out."""
        found = {
            "grey": self._number("grey", zone),
            "pits": self.pits(zone) or None,
            "laser_spot": self._number("laser", zone),
            "steepest_angle_deg": self._number("lamp", zone),
        }
        return {name: value for name, value in found.items() if value is not None}

    def look(self) -> dict[str, Any]:
        """What was seen, under the names of the logbook, in SI."""
        zones = [self.zone(zone) for zone in range(len(ZONES))]
        humidity = self._number("humidity")
        room = {
            "glass_temperature_c": self._celsius("glass"),
            "room_temperature_c": self._celsius("room"),
            "room_humidity": None if humidity is None else round(humidity / 100, 6),
        }
        known = {name: value for name, value in room.items() if value is not None}
        return {"zones": zones[:-1], "edge": zones[-1], "blemishes": self.blemishes()} | known

    def _celsius(self, part: str) -> float | None:
        value = self._number(part)
        return value if value is None or not self._inches else round(read(f"{value} degF", TEMPERATURE), 2)

    def _metres(self, typed: float) -> float:
        return round(typed * (INCH_M if self._inches else MM_M), 6)
