"""What the report shows of the glass: scores by zone, depth by zone, blemishes; pictures and their tables."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from benchctl.logbook.blemishes import SAME_PLACE_M, told_apart
from benchctl.logbook.charts import Line, line_chart
from benchctl.logbook.dials import Spot, glass_map, sign_picture
from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.segments import Segment
from benchctl.models.json_values import as_number
from benchctl.units import LENGTH, printable, show

ZONE_WORDS = {"1": "zone 1 (inmost)", "2": "zone 2", "3": "zone 3", "4": "zone 4", "5": "zone 5"}
ZONE_WORDS |= {"edge": "last 5 mm"}
Rows = dict[str, dict[str, Any]]


def clean(value: Any, limit: int = 2000) -> str:
    """Outside text for the report: no control characters, not too long. Markup is escaped by the template."""
    return printable(str(value), limit)


def day(at: str) -> str:
    """Wall time to the minute."""
    return clean(at[:16].replace("T", " "))


def progress(own: Sequence[Segment], looks: Sequence[Entry]) -> dict[str, Any]:
    """Grey and pits by zone over the useful turns so far, and every score in a table."""
    seen = list(_with_turns(own, looks))
    table = [
        {"at": day(look.at), "turns": f"{turns:.0f}", "zones": [_score(rows.get(z, {})) for z in ZONE_WORDS]}
        for look, turns, rows in seen
    ]
    return {
        "grey": line_chart(
            _lines(seen, "grey"),
            label="Grey score by zone over useful turns; the figures are in the table below",
            x_name="useful turns so far",
            y_name="grey, 0 to 10",
            y_range=(0.0, 10.0),
            from_zero=True,
        ),
        "pits": line_chart(
            _lines(seen, "pits_mean"),
            label="Pits in a field of the loupe by zone over useful turns, where they could be counted",
            x_name="useful turns so far",
            y_name="pits a field",
            y_range=(0.0, 50.0),
            from_zero=True,
        ),
        "table": table,
        "zones": list(ZONE_WORDS.values()),
    }


def _with_turns(own: Sequence[Segment], looks: Sequence[Entry]) -> Iterator[tuple[Entry, float, Rows]]:
    """Each look with the useful turns before it and its rows by zone."""
    turns, following = 0.0, 0
    for look in looks:
        while following < len(own) and own[following].n < look.n:
            turns += own[following].number_of("useful_turns") or 0.0
            following += 1
        yield look, turns, {str(row["zone"]): row for row in zone_rows(look.id, look.at, look.fields)}


def _lines(seen: Sequence[tuple[Entry, float, Rows]], name: str) -> list[Line]:
    found = []
    for zone, words in ZONE_WORDS.items():
        points = [
            (turns, value)
            for _, turns, rows in seen
            if (value := as_number(rows.get(zone, {}).get(name))) is not None
        ]
        if points:
            found.append(Line(words, points))
    return found


def _score(row: dict[str, Any]) -> list[str]:
    """The scores of a zone, each in a few words."""
    parts = []
    if (grey := as_number(row.get("grey"))) is not None:
        parts.append(f"grey {grey:g}")
    if row.get("pits_too_many"):
        parts.append("pits too many")
    elif (pits := as_number(row.get("pits_mean"))) is not None:
        parts.append(f"pits {pits:.1f}")
    if (spot := as_number(row.get("laser_spot"))) is not None:
        parts.append(f"laser {spot:g}")
    if (angle := as_number(row.get("steepest_angle_deg"))) is not None:
        parts.append(f"lamp {angle:g}°")
    return parts or ["–"]


def depth(own: Sequence[Segment]) -> dict[str, Any] | None:
    """Depth taken by zone so far, by the mechanics, over the segments; None where no segment tells it."""
    sums = [0.0] * len(ZONE_WORDS)
    points: list[list[tuple[float, float]]] = [[] for _ in ZONE_WORDS]
    told = 0
    for one in own:
        depths = one.fields.get("zone_depths_m")
        if not isinstance(depths, list) or len(depths) != len(ZONE_WORDS):
            continue
        told += 1
        for zone, value in enumerate(depths):
            sums[zone] += as_number(value) or 0.0
            points[zone].append((float(one.number), sums[zone] * 1e6))
    if not told:
        return None
    mean = sum(sums[:-1]) / (len(sums) - 1)
    return {
        "picture": line_chart(
            [Line(words, some) for words, some in zip(ZONE_WORDS.values(), points, strict=True)],
            label="Depth taken from each zone so far by the mechanics; the sums are in the table below",
            x_name="segment",
            y_name="depth, µm",
            from_zero=True,
        ),
        "table": [
            (
                words,
                f"{total * 1e6:.2f}",
                f"{total / told * 1e6:.3f}",
                f"{total / mean - 1:+.0%}" if mean else "–",
            )
            for words, total in zip(ZONE_WORDS.values(), sums, strict=True)
        ],
        "told": told,
        "of": len(own),
    }


def blemishes(own: Sequence[Segment], looks: Sequence[Entry], system: str) -> dict[str, Any]:
    """The map of blemishes told apart, and where each is, since when."""
    found = told_apart(looks)
    if not found:
        return {"picture": "", "table": []}
    facts = own[-1].fields if own else {}
    widest = max(one.radius_m for one in found)
    rim = as_number(facts.get("mirror_radius_m")) or math.ceil(widest * 1.05 * 100) / 100 or 0.01
    hole = as_number(facts.get("mirror_hole_radius_m")) or 0.0
    spots = [
        Spot(str(number), one.kind, one.angle_deg, one.radius_m, one.new)
        for number, one in enumerate(found, start=1)
    ]
    table = [
        {
            "number": str(number),
            "sign": sign_picture(one.kind),
            "kind": clean(one.kind),
            "angle": f"{one.angle_deg:.0f}°",
            "radius": show(one.radius_m, LENGTH, system),
            "length": "–" if one.length_m is None else show(one.length_m, LENGTH, system),
            "first": day(one.first_at),
            "last": day(one.last_at),
            "state": "new" if one.new else "still there" if one.in_last else "not in the last look",
            "note": clean(one.note),
        }
        for number, one in enumerate(found, start=1)
    ]
    label = "Map of blemishes seen from the front; places in the table"
    picture = glass_map(spots, max(rim, widest), hole, label=label)
    return {"picture": picture, "table": table, "same": show(SAME_PLACE_M, LENGTH, system)}
