"""Questions about how the glass answers: which zone lags, how fast grey fades, post moves, room.

Grey fades about in proportion to exp(-depth / length) until late (shape: Suratwala et al. 2006, read as
abstract), so the fading is measured as ln(grey before / grey after) per unit of work; at a steady rate of
removal it stays the same from look to look.
Scores are judgements in steps: two looks say little, a row of them says more.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import Answer, looks_after_each, mean_of, work_of
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, as_number, inspections, segments

LEAST_GREY = 1.0
"""Below this a score in steps says too little of the rate."""
LEAST_PAIRS = 10
ZONE_NAMES = ("1", "2", "3", "4", "5", "edge")
_SETTINGS = {"post_offset_m": 0.0005, "load_n": 1.0, "work_rpm": 0.5}
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


def fading(before: Entry, after: Entry, work: float) -> dict[str, float | None]:
    """By zone, ln(grey before / grey after) per 1000 N m turns of work; None where the scores cannot say."""
    old, new = _grey(before), _grey(after)
    rates: dict[str, float | None] = {}
    for zone in ZONE_NAMES:
        one, two = old.get(zone), new.get(zone)
        known = one is not None and two is not None and two >= LEAST_GREY and work > 0
        rates[zone] = round(math.log(one / two) / work * 1000, 4) if known and one and two else None
    return rates


def _grey(look: Entry) -> dict[str, float | None]:
    return {str(row["zone"]): as_number(row.get("grey")) for row in zone_rows(look.id, look.at, look.fields)}


def _spans(book: Logbook) -> list[dict[str, Any]]:
    """From each look to the next: segments, work, rates."""
    found = segments(book)
    ends, rows = [one.n for one in found], list[dict[str, Any]]()
    for before, after in pairwise(inspections(book)):
        some = found[bisect_right(ends, before.n) : bisect_left(ends, after.n)]
        work = sum(work_of(one) for one in some)
        rates = fading(before, after, work)
        known = [rate for rate in rates.values() if rate is not None]
        rows.append(
            {
                "from": before.at,
                "to": after.at,
                "from_n": before.n,
                "to_n": after.n,
                "segments": len(some),
                "work_n_m_turns": round(work, 1),
                "fading_mean": round(sum(known) / len(known), 4) if known else None,
                "fading": rates,
                "spin_mean": mean_of(some, "spin_ratio_mean"),
                "post_offset_m": mean_of(some, "post_offset_m"),
            }
        )
    return rows


def rate(book: Logbook) -> Answer:
    """What the glass gives per unit of work, and whether that fell."""
    rows = [row for row in _spans(book) if row["fading_mean"] is not None]
    if len(rows) < 2:
        return Answer(["Cannot tell yet: it takes three looks with grey scores of 1 and more."], rows)
    half = len(rows) // 2
    early, late = (_mean(part) for part in (rows[:half], rows[-half:]))
    word = "about the same as" if early <= 0 or abs(late / early - 1) < 0.2 else "different from"
    if word == "different from":
        word = "less than" if late < early else "more than"
    unit = "per 1000 N m turns of work (natural logarithm of grey)"
    return Answer(
        [f"Grey fades by {late:.3f} {unit}; {word} earlier ({early:.3f}). Scores are judged in steps."], rows
    )


def _mean(rows: Sequence[dict[str, Any]]) -> float:
    return math.fsum(row["fading_mean"] for row in rows) / len(rows)


def post_moves(book: Logbook) -> Answer:
    """For each move of the post: what was predicted, and how zones faded before and after."""
    found, spans, rows, sentences = segments(book), _spans(book), [], []
    decisions = list(book.of_kind("decision"))
    for before, after in pairwise(found):
        old, new = before.number_of("post_offset_m"), after.number_of("post_offset_m")
        if old is None or new is None or abs(new - old) < _SETTINGS["post_offset_m"]:
            continue
        said = [one.fields for one in decisions if before.n < one.n < after.n]
        earlier = [row for row in spans if row["to_n"] < after.n]
        later = [row for row in spans if row["from_n"] > before.n]
        row = {
            "segment_number": after.number,
            "from_m": old,
            "to_m": new,
            "predicted": said[-1].get("predicted") if said else None,
            "fading_before": earlier[-1]["fading"] if earlier else None,
            "fading_after": later[0]["fading"] if later else None,
        }
        rows.append(row)
        sentences.append(_move_sentence(row))
    return Answer(sentences or ["The post was not moved."], rows)


def _move_sentence(row: dict[str, Any]) -> str:
    way = "out" if row["to_m"] > row["from_m"] else "in"
    distance = abs(row["to_m"] - row["from_m"]) * 1000
    head = f"Segment {row['segment_number']}: post {distance:.0f} mm {way}"
    old, new = row["fading_before"] or {}, row["fading_after"] or {}
    told = [
        f"zone {zone} {(new[zone] / old[zone] - 1) * 100:+.0f} %"
        for zone in ZONE_NAMES
        if old.get(zone) and new.get(zone) is not None
    ]
    seen = "seen: " + ", ".join(told) if told else "cannot tell what it did: too few looks with grey scores"
    predicted = f"; predicted: {row['predicted']}" if row["predicted"] else "; no prediction was kept"
    return f"{head}{predicted}; {seen}."


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
