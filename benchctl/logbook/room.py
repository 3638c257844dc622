"""The question whether spin or progress follows the room: rank correlation with temperature and humidity."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from benchctl.logbook.questions import Answer, looks_after_each
from benchctl.logbook.rates import Stretches
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.models.json_values import as_number

LEAST_PAIRS = 10
"""Fewer pairs than this are not asked (judgement)."""
_ROOM = (("room_temperature_c", "room temperature"), ("room_humidity", "humidity"))


def room(book: Logbook) -> Answer:
    """Do spin and progress follow the room's temperature or humidity.

    Spin segment by segment; progress as the fading of grey for the work done, from look to look.
    """
    found, looks = segments(book), inspections(book)
    rows = [_row(one, after) for one, after in zip(found, looks_after_each(found, looks), strict=True)]
    by_n = {one.n: row for one, row in zip(found, rows, strict=True)}
    paces, find = list[dict[str, Any]](), Stretches(found)
    for pair in pairwise(looks):
        span = find.between(*pair)
        mean = span.mean
        if mean is not None:
            paces.append({"pace": mean.value} | _mean_room([by_n[one.n] for one in span.segments]))
    sentences = []
    for name, words in _ROOM:
        sentences.append(_correlation_sentence(f"Spin and {words}", rows, name, "spin", "segments"))
        sentences.append(_correlation_sentence(f"Progress and {words}", paces, name, "pace", "looks"))
    return Answer(sentences, rows)


def _row(one: Segment, looks: Sequence[Any]) -> dict[str, Any]:
    """A segment's spin and room; the room from the segment, else from the look after it."""
    sources = [one.fields, *(look.fields for look in looks)]
    row: dict[str, Any] = {"segment_number": one.number, "spin": one.number_of("spin_ratio_mean")}
    for name, _ in _ROOM:
        row[name] = next((v for fields in sources if (v := as_number(fields.get(name))) is not None), None)
    return row


def _mean_room(rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, _ in _ROOM:
        known = [row[name] for row in rows if row[name] is not None]
        found[name] = math.fsum(known) / len(known) if known else None
    return found


def _correlation_sentence(head: str, rows: Sequence[dict[str, Any]], one: str, other: str, what: str) -> str:
    pairs = [(row[one], row[other]) for row in rows if row[one] is not None and row[other] is not None]
    rho = rank_correlation(pairs)
    if len(pairs) < LEAST_PAIRS:
        return f"{head}: cannot tell yet ({len(pairs)} {what} with both, {LEAST_PAIRS} needed)."
    if rho is None:
        return f"{head}: cannot tell; one of them did not vary over {len(pairs)} {what}."
    clear = abs(rho) > 2 / math.sqrt(len(pairs) - 1)
    verdict = "they go together" if clear else "no connection is clear"
    return f"{head}: rank correlation {rho:+.2f} over {len(pairs)} {what}; {verdict}."


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
