"""The question which zone lags, since when, and after which change."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from benchctl import units
from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import Answer
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.models.json_values import as_number

OFFSET_CHANGE_M = 0.0005
_SETTINGS = {"post_offset_m": OFFSET_CHANGE_M, "load_n": 1.0, "work_rpm": 0.5}
"""What a person changes, and from how much on it counts as changed."""


def scores(look: Entry) -> dict[str, float | None]:
    """The score of each zone by which zones are compared: pits where all zones have them, else grey."""
    rows = {str(row["zone"]): row for row in zone_rows(look.id, look.at, look.fields)}
    for name in ("pits_mean", "grey"):
        values = {zone: as_number(row.get(name)) for zone, row in rows.items() if zone != "edge"}
        if values and all(value is not None for value in values.values()):
            return {zone: as_number(row.get(name)) for zone, row in rows.items()}
    return {zone: as_number(row.get("grey")) for zone, row in rows.items()}


def worst_zones(look: Entry) -> set[str]:
    """The zone that lags, or several that tie; empty where nothing was scored or no zone lags."""
    known = {zone: value for zone, value in scores(look).items() if value is not None}
    if not known or max(known.values()) == min(known.values()):
        return set()
    return {zone for zone, value in known.items() if value == max(known.values())}


def lagging(book: Logbook, system: str = units.METRIC) -> Answer:
    """Which zone lags, since when, and what was changed before that."""
    looks, found = inspections(book), segments(book)
    rows = [{"at": look.at, "worst": sorted(worst_zones(look))} | {"scores": scores(look)} for look in looks]
    if not looks:
        return Answer(["Nobody has looked at the glass yet."])
    now = worst_zones(looks[-1])
    if not now:
        return Answer(["At the last look no zone lagged."], rows)
    sentences = []
    for zone in sorted(now):
        first = len(looks) - 1
        while first > 0 and zone in worst_zones(looks[first - 1]):
            first -= 1
        since = looks[first]
        changes = _changes_before(found, looks[first - 1].n if first else 0, since.n, system)
        name = "the last 5 mm" if zone == "edge" else f"zone {zone}"
        sentences.append(f"{name.capitalize()} lags since the look of {since.at[:10]}; {changes}.")
    return Answer(sentences, rows)


def _changes_before(found: Sequence[Segment], after_n: int, before_n: int, system: str) -> str:
    last_before = [one for one in found if one.n < after_n][-1:]
    some = last_before + [one for one in found if after_n < one.n < before_n]
    words = [word for pair in pairwise(some) for word in changes(*pair, system)]
    return "changed before it: " + "; ".join(words) if words else "no setting was changed before it"


def changes(before: Segment, after: Segment, system: str = units.METRIC) -> list[str]:
    """What was set differently from one segment to the next, in words."""
    words = []
    for name, least in _SETTINGS.items():
        old, new = before.number_of(name), after.number_of(name)
        if old is not None and new is not None and abs(new - old) >= least:
            words.append(f"segment {after.number} {_setting(name, old, new, system)}")
    if before.fields.get("lap") != after.fields.get("lap"):
        words.append(f"segment {after.number} another lap ({after.fields.get('lap')})")
    return words


def _setting(name: str, old: float, new: float, system: str) -> str:
    if name == "work_rpm":
        return f"speed {old:g} to {new:g} rpm"
    what, kind = ("offset", units.LENGTH) if name == "post_offset_m" else ("load", units.FORCE)
    return f"{what} {units.show_number(old, kind, system)} to {units.show(new, kind, system)}"
