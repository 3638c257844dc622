"""Questions about what goes with what: which zone lags since which change, spin and the room."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import Answer, looks_after_each
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, as_number, inspections, segments

LEAST_PAIRS = 10
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


def lagging(book: Logbook) -> Answer:
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
        changes = _changes_before(found, looks[first - 1].n if first else 0, since.n)
        name = "the last 5 mm" if zone == "edge" else f"zone {zone}"
        sentences.append(f"{name.capitalize()} lags since the look of {since.at[:10]}; {changes}.")
    return Answer(sentences, rows)


def _changes_before(found: Sequence[Segment], after_n: int, before_n: int) -> str:
    last_before = [one for one in found if one.n < after_n][-1:]
    some = last_before + [one for one in found if after_n < one.n < before_n]
    words = [word for pair in pairwise(some) for word in changes(*pair)]
    return "changed before it: " + "; ".join(words) if words else "no setting was changed before it"


def changes(before: Segment, after: Segment) -> list[str]:
    """What was set differently from one segment to the next, in words."""
    words = []
    for name, least in _SETTINGS.items():
        old, new = before.number_of(name), after.number_of(name)
        if old is not None and new is not None and abs(new - old) >= least:
            words.append(f"segment {after.number} {_setting(name, old, new)}")
    if before.fields.get("lap") != after.fields.get("lap"):
        words.append(f"segment {after.number} another lap ({after.fields.get('lap')})")
    return words


def _setting(name: str, old: float, new: float) -> str:
    if name == "post_offset_m":
        return f"offset {old * 1000:.0f} to {new * 1000:.0f} mm"
    return f"load {old:.0f} to {new:.0f} N" if name == "load_n" else f"speed {old:g} to {new:g} rpm"


def room(book: Logbook) -> Answer:
    """Does spin follow the room's temperature or humidity: rank correlation over the segments."""
    found, rows = segments(book), list[dict[str, Any]]()
    for one, looks in zip(found, looks_after_each(found, inspections(book)), strict=True):
        sources = [one.fields, *(look.fields for look in looks)]
        row: dict[str, Any] = {"segment_number": one.number, "spin": one.number_of("spin_ratio_mean")}
        for name in ("room_temperature_c", "room_humidity"):
            row[name] = next(
                (v for fields in sources if (v := as_number(fields.get(name))) is not None), None
            )
        rows.append(row)
    sentences = []
    for name, words in (("room_temperature_c", "room temperature"), ("room_humidity", "humidity")):
        pairs = [
            (row[name], row["spin"]) for row in rows if row[name] is not None and row["spin"] is not None
        ]
        sentences.append(_correlation_sentence(words, pairs))
    return Answer(sentences, rows)


def _correlation_sentence(words: str, pairs: Sequence[tuple[float, float]]) -> str:
    rho = rank_correlation(pairs)
    if len(pairs) >= LEAST_PAIRS and rho is None:
        return f"Spin and {words}: cannot tell; one of them did not vary over {len(pairs)} segments."
    if len(pairs) < LEAST_PAIRS or rho is None:
        return f"Spin and {words}: cannot tell yet ({len(pairs)} segments with both, {LEAST_PAIRS} needed)."
    clear = abs(rho) > 2 / math.sqrt(len(pairs) - 1)
    verdict = "they go together" if clear else "no connection is clear"
    return f"Spin and {words}: rank correlation {rho:+.2f} over {len(pairs)} segments; {verdict}."


def rank_correlation(pairs: Sequence[tuple[float, float]]) -> float | None:
    """Spearman's rank correlation with ties at their mean rank; None where one side does not vary."""
    if len(pairs) < 2:
        return None
    one, two = (_ranks([pair[side] for pair in pairs]) for side in (0, 1))
    middle = (len(pairs) + 1) / 2
    both = sum((a - middle) * (b - middle) for a, b in zip(one, two, strict=True))
    spread = math.sqrt(sum((a - middle) ** 2 for a in one) * sum((b - middle) ** 2 for b in two))
    return both / spread if spread > 0 else None


def _ranks(values: Sequence[float]) -> list[float]:
    order = sorted(values)
    return [(bisect_left(order, value) + bisect_right(order, value) + 1) / 2 for value in values]
