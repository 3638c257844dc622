"""Blemishes told apart: what was seen at the same place in several looks is one blemish."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchctl.logbook.lines import Entry
from benchctl.models.json_values import as_number

SAME_PLACE_M = 0.008
"""Nearer to each other than this, two of one kind are the same (a judgement: places are estimated)."""


@dataclass(frozen=True)
class Seen:
    """One blemish: where it was last seen, when first and last, in how many looks, and if in the last."""

    kind: str
    angle_deg: float
    radius_m: float
    length_m: float | None
    note: str
    first_at: str
    last_at: str
    looks: int = 1
    in_last: bool = False
    new: bool = False
    """First seen in the last look, and there were looks before it."""

    @property
    def place_m(self) -> tuple[float, float]:
        """Across and up from the mirror's centre, mark 1 at the top, seen from the front."""
        turn = math.radians(self.angle_deg)
        return self.radius_m * math.sin(turn), self.radius_m * math.cos(turn)


def told_apart(looks: Sequence[Entry]) -> list[Seen]:
    """The blemishes of some looks, oldest first, in the order they were first seen."""
    found: list[Seen] = []
    for number, look in enumerate(looks):
        last = number == len(looks) - 1
        for one in _of(look):
            known = next((i for i, old in enumerate(found) if _same(old, one)), None)
            if known is None:
                found.append(replace(one, in_last=last, new=last and number > 0))
                continue
            old = found[known]
            count = old.looks + (old.last_at != one.last_at)
            found[known] = replace(
                one, first_at=old.first_at, looks=count, in_last=last, new=old.new, note=one.note or old.note
            )
    return found


def new_since(now: Any, before: Any) -> list[Seen]:
    """The blemishes of one look's list that are not in the list of the look before."""
    old = _listed(before, "")
    return [one for one in _listed(now, "") if not any(_same(known, one) for known in old)]


def _of(look: Entry) -> list[Seen]:
    return _listed(look.fields.get("blemishes"), look.at)


def _listed(listed: Any, at: str) -> list[Seen]:
    found = []
    for one in listed if isinstance(listed, list) else ():
        if not isinstance(one, dict):
            continue
        angle, radius = as_number(one.get("angle_deg")), as_number(one.get("radius_m"))
        if angle is not None and radius is not None:
            length, note = as_number(one.get("length_m")), str(one.get("note") or "")
            found.append(Seen(str(one.get("kind", "")), angle, radius, length, note, at, at))
    return found


def _same(old: Seen, new: Seen) -> bool:
    return old.kind == new.kind and math.dist(old.place_m, new.place_m) <= SAME_PLACE_M
