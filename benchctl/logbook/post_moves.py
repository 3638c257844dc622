"""The question whether a move of the post did what was predicted: each zone beside the mean of the zones."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from benchctl import units
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import Answer
from benchctl.logbook.rates import CLEAR, ZONE_NAMES, Fading, Stretch, Stretches
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.logbook.trends import OFFSET_CHANGE_M
from benchctl.models.json_values import as_number


def post_moves(book: Logbook, system: str = units.METRIC) -> Answer:
    """For each move of the post: what was predicted by zone, what was seen, and whether they agree."""
    found, looks = segments(book), inspections(book)
    moved = [pair for pair in pairwise(found) if _moved(*pair)]
    decisions, find = list(book.of_kind("decision")), Stretches(found)
    rows, sentences = [], []
    for number, (before, after) in enumerate(moved):
        from_n = moved[number - 1][1].n if number else 0
        until_n = moved[number + 1][1].n if number + 1 < len(moved) else math.inf
        said = [one.fields for one in decisions if before.n < one.n < after.n]
        seen = _seen(
            _longest(find, [look for look in looks if from_n <= look.n < after.n]),
            _longest(find, [look for look in looks if before.n < look.n < until_n]),
        )
        row = {
            "segment_number": after.number,
            "from_m": before.number_of("post_offset_m"),
            "to_m": after.number_of("post_offset_m"),
            "predicted": said[-1].get("predicted") if said else None,
            "seen": {zone: {"change": one.value, "error": one.error} for zone, one in seen.items()},
        }
        rows.append(row)
        sentences.append(_move_sentence(row, seen, system))
    return Answer(sentences or ["The post was not moved."], rows)


def _moved(before: Segment, after: Segment) -> bool:
    old, new = before.number_of("post_offset_m"), after.number_of("post_offset_m")
    return old is not None and new is not None and abs(new - old) >= OFFSET_CHANGE_M


def _longest(find: Stretches, looks: Sequence[Entry]) -> list[Stretch]:
    """The stretch from the first look to each later one, the longest first: more work, surer."""
    return [find.between(looks[0], last, pits=True) for last in reversed(looks[1:])] if looks else []


def _seen(before: Sequence[Stretch], after: Sequence[Stretch]) -> dict[str, Fading]:
    """By zone, how much faster it faded for the same work after the move, beside the mean of the zones.

    Beside the mean, since a glazed lap, another compound or the end of the pits speeds or slows all alike.
    """
    shares = {}
    for zone in ZONE_NAMES:
        old = next((rate for one in before if (rate := one.rate(zone)) is not None), None)
        new = next((rate for one in after if (rate := one.rate(zone)) is not None), None)
        if old is not None and new is not None and old.value > 0:
            share = new.value / old.value
            shares[zone] = Fading(share, math.hypot(new.error / old.value, share * old.error / old.value))
    mean = _mean_of({zone: one.value for zone, one in shares.items()})
    if mean is None or mean <= 0:
        return {}
    return {
        zone: Fading(round(one.value / mean - 1, 4), round(one.error / mean, 4))
        for zone, one in shares.items()
    }


def _mean_of(by_zone: Mapping[str, float]) -> float | None:
    """The mean of the five zones, where at least two of them are known."""
    known = [value for zone, value in by_zone.items() if zone != "edge"]
    return math.fsum(known) / len(known) if len(known) > 1 else None


def predicted_by_zone(predicted: Any) -> dict[str, float]:
    """The predicted change of each zone's depth beside the mean of the zones, 0.1 a tenth more.

    Empty where it is in words or missing.
    """
    if not isinstance(predicted, dict) or not isinstance(predicted.get("zones"), list):
        return {}
    named = zip(ZONE_NAMES, [*predicted["zones"][:5], predicted.get("edge")], strict=False)
    shares = {zone: 1 + number for zone, value in named if (number := as_number(value)) is not None}
    mean = _mean_of(shares)
    return {zone: round(share / mean - 1, 4) for zone, share in shares.items()} if mean else {}


def _move_sentence(row: Mapping[str, Any], seen: Mapping[str, Fading], system: str) -> str:
    way = "out" if row["to_m"] > row["from_m"] else "in"
    distance = units.show(abs(row["to_m"] - row["from_m"]), units.LENGTH, system)
    wanted = predicted_by_zone(row["predicted"])
    predicted = f"predicted: {row['predicted']}" if row["predicted"] else "no prediction was kept"
    if wanted:
        named = ", ".join(f"{_zone(zone)} {value:+.0%}" for zone, value in wanted.items())
        predicted = f"predicted beside the mean of the zones: {named}"
    told = [f"{_zone(zone)} {one.value:+.0%} (give or take {one.error:.0%})" for zone, one in seen.items()]
    what = "cannot tell what it did: too few looks that can say"
    if told:
        what = f"seen beside the mean: {', '.join(told)}{_verdict(wanted, seen)}"
    return f"Segment {row['segment_number']}: post {distance} {way}; {predicted}; {what}."


def _zone(name: str) -> str:
    return "last 5 mm" if name == "edge" else f"zone {name}"


def _verdict(wanted: Mapping[str, float], seen: Mapping[str, Fading]) -> str:
    """Whether what was seen agrees with what was predicted, and whether it could have said otherwise."""
    both = {zone: (wanted[zone], seen[zone]) for zone in wanted if zone in seen}
    if not both:
        return ""
    off = [zone for zone, (value, one) in both.items() if abs(value - one.value) > CLEAR * one.error]
    if off:
        return f"; not as predicted in {', '.join(map(_zone, off))}"
    if all(abs(value) < CLEAR * one.error for value, one in both.values()):
        return "; the scores scatter more than was predicted, so they cannot tell"
    return "; as predicted"
