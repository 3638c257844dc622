"""A look at the glass typed as words, for a pipe and for the lines of the plain screen.

    grey 9 8 7 7 8 9  pits m 38,41 12,9,14 8 m -  laser 1 1 2 2 1 0  lamp 20 20 30 30 20 10
    glass 20.5C  room 20C  humidity 48%  rim 100%  blemish sleek 130 95mm 12mm  note faint, near the hole

Six values a score: zones 1 to 5, inmost first, and the last 5 mm; `-` was not looked at, `m` are too many
pits to count. What is not named was not looked at. `note` takes the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchctl.errors import BadInput
from benchctl.models.inspection import KINDS, TOO_MANY, ZONES, Inspection
from benchctl.models.validation import made
from benchctl.units import LENGTH, SHARE, TEMPERATURE, Kind, printable, read

NAMES = ("1", "2", "3", "4", "5", "the last 5 mm")
GRAMMAR = (
    "grey, pits, laser and lamp take six values each (zones 1 to 5, the last 5 mm; - where not looked at; "
    "m for too many pits, commas between fields), glass, room, humidity and rim one with its unit, "
    "blemish KIND ANGLE RADIUS [LENGTH], note the rest"
)
_FIELDS = {"grey": "grey", "pits": "pits", "laser": "laser_spot", "lamp": "steepest_angle_deg"}
_ROOM: dict[str, tuple[str, Kind]] = {
    "glass": ("glass_temperature_c", TEMPERATURE),
    "room": ("room_temperature_c", TEMPERATURE),
    "humidity": ("room_humidity", SHARE),
    "rim": ("rim_looked_at", SHARE),
}


def look_of(words: Sequence[str], *, segment: str = "", mirror: str = "") -> Inspection:
    """The look that the words tell. BadInput, in one sentence, for what cannot be."""
    fields = {"segment": segment, "mirror": mirror} | look_fields(words)
    return made(lambda: Inspection.model_validate(fields, context={"si": True}))


def look_fields(words: Sequence[str]) -> dict[str, Any]:
    """The same as a mapping of the logbook's names, in SI; its numbers are not yet held to their limits."""
    left = [word for word in words if word.strip()]
    if not left:
        raise BadInput(f"no look was given: {GRAMMAR}")
    if left[0] == "-" or left[0][0].isdecimal():
        left.insert(0, "grey")
    zones: list[dict[str, Any]] = [{} for _ in NAMES]
    found: dict[str, Any] = {}
    blemishes: list[dict[str, Any]] = []
    while left:
        name = left.pop(0).lower()
        if name in _FIELDS:
            _score(name, left, zones)
        elif name in _ROOM:
            field, kind = _ROOM[name]
            found[field] = read(_next(left, name), kind)
        elif name == "blemish":
            blemishes.append(_blemish(left))
        elif name == "note":
            found["note"], left = " ".join(left), []
        else:
            raise BadInput(f"look: '{printable(name)}' is not known here; {GRAMMAR}")
    return {"zones": zones[:ZONES], "edge": zones[ZONES], "blemishes": blemishes} | found


def _next(left: list[str], name: str) -> str:
    if not left:
        raise BadInput(f"look: {name} wants a value after it; {GRAMMAR}")
    return left.pop(0)


def _score(name: str, left: list[str], zones: list[dict[str, Any]]) -> None:
    readers: dict[str, Callable[[str], Any]] = {"pits": _pits, "laser": _whole}
    for place, zone in zip(NAMES, zones, strict=True):
        if not left:
            raise BadInput(f"look: {name} has fewer than six values; add zone {place} and on, - for none")
        text = left.pop(0)
        if text == "-":
            continue
        try:
            zone[_FIELDS[name]] = readers.get(name, float)(text)
        except ValueError:
            raise BadInput(
                f"look: '{printable(text)}' is no {name} of zone {place}; six values are wanted, - for none"
            ) from None


def _pits(text: str) -> list[int | str]:
    return [TOO_MANY if one.lower() in ("m", TOO_MANY) else int(one) for one in text.split(",")]


def _whole(text: str) -> int:
    return int(text)


def _blemish(left: list[str]) -> dict[str, Any]:
    kind = _next(left, "blemish").replace("-", " ").lower()
    if kind not in KINDS:
        raise BadInput(f"look: '{printable(kind)}' is no kind of blemish; use one of {', '.join(KINDS)}")
    angle, radius = _next(left, f"blemish {kind}"), _next(left, f"blemish {kind}")
    try:
        angle_deg = float(angle)
    except ValueError:
        raise BadInput(
            f"look: '{printable(angle)}' is no angle; give degrees clockwise from mark 1, such as 130"
        ) from None
    found: dict[str, Any] = {"kind": kind, "angle_deg": angle_deg, "radius_m": read(radius, LENGTH)}
    if left and left[0][0].isdecimal():
        found["length_m"] = read(left.pop(0), LENGTH)
    return found
