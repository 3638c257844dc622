"""One HTML file for a mirror: work, progress by zone, spin and load, marks, blemishes, segments, remarks.

No scripts, no network, everything escaped; the same logbook gives the same bytes, so nothing in it
depends on when or where the report was made.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.charts import Line, glass_map, line_chart, rim_dial
from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import mirrors, totals
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, as_number, inspections, segments
from benchctl.logbook.text import ended
from benchctl.units import printable

LAP_LIFTED = "lap lifted"
"""Why the program itself adds a correction: how long the lap stood is known after the segment's record."""
ZONE_WORDS = {"1": "zone 1 (inmost)", "2": "zone 2", "3": "zone 3", "4": "zone 4", "5": "zone 5"}
ZONE_WORDS |= {"edge": "last 5 mm"}


@dataclass(frozen=True)
class MarkStep:
    """A segment's mark, and the two-fold and three-fold print left after it as shares of the whole."""

    mark: int
    two_fold: complex
    three_fold: complex


@dataclass(frozen=True)
class MarksPicture:
    """What the planner says of the marks."""

    count: int
    steps: Sequence[MarkStep]
    unused: Sequence[int]


def mirror_shown(book: Logbook, asked: str | None) -> str:
    """The mirror asked for, or the one of the last segment. BadInput where the logbook has no such mirror."""
    names = mirrors(segments(book))
    if asked is None:
        return names[-1] if len(names) == 1 else _last_mirror(book)
    if asked not in names:
        known = ", ".join(printable(name) for name in names) or "none"
        raise BadInput(f"no segment of a mirror '{printable(asked)}' in this logbook; it has: {known}")
    return asked


def _last_mirror(book: Logbook) -> str:
    found = segments(book)
    return str(found[-1].fields.get("mirror", "")) if found else ""


def report_html(book: Logbook, *, mirror: str | None = None, marks: MarksPicture | None = None) -> str:
    """The report on one mirror as HTML."""
    import jinja2

    name = mirror_shown(book, mirror)
    own = [one for one in segments(book) if str(one.fields.get("mirror", "")) == name]
    looks = [one for one in inspections(book) if one.fields.get("mirror") in (name, "", None)]
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    source = resources.files("benchctl.logbook").joinpath("report.html.j2").read_text(encoding="utf-8")
    return environment.from_string(source).render(
        mirror=_clean(name),
        segments=own,
        totals=totals(own),
        damage=len(book.damaged) + len(book.breaks),
        simulated=sum(1 for one in own if one.fields.get("simulated") is True),
        progress=_progress(own, looks),
        running=_running(own),
        marks=_marks(marks),
        blemishes=_blemishes(own, looks),
        rows=[_segment_row(one) for one in own],
        remarks=_remarks(book),
    )


def _clean(value: Any, limit: int = 2000) -> str:
    return printable(str(value), limit)


def _progress(own: Sequence[Segment], looks: Sequence[Entry]) -> dict[str, Any]:
    """Grey by zone over the useful turns so far, and every score in a table."""
    table, points = [], {zone: list[tuple[float, float]]() for zone in ZONE_WORDS}
    turns = 0.0
    ended_so_far = iter([*own, None])
    following = next(ended_so_far)
    for look in looks:
        while following is not None and following.n < look.n:
            turns += following.number_of("useful_turns") or 0.0
            following = next(ended_so_far)
        scores = {str(row["zone"]): row for row in zone_rows(look.id, look.at, look.fields)}
        for zone, row in scores.items():
            if zone in points and (grey := as_number(row.get("grey"))) is not None:
                points[zone].append((turns, grey))
        table.append({"at": _day(look.at), "turns": f"{turns:.0f}", "zones": _score_cells(scores)})
    lines = [Line(ZONE_WORDS[zone], some) for zone, some in points.items() if some]
    picture = line_chart(
        lines,
        label="Grey score by zone over useful turns; the figures are in the table below",
        x_name="useful turns so far",
        y_name="grey, 0 to 10",
        y_range=(0.0, 10.0),
    )
    return {"picture": picture, "table": table, "zones": list(ZONE_WORDS.values())}


def _score_cells(scores: dict[str, dict[str, Any]]) -> list[str]:
    return [_score(scores.get(zone, {})) for zone in ZONE_WORDS]


def _score(row: dict[str, Any]) -> str:
    parts = []
    if (grey := as_number(row.get("grey"))) is not None:
        parts.append(f"grey {grey:g}")
    if row.get("pits_too_many"):
        parts.append("pits: too many")
    elif (pits := as_number(row.get("pits_mean"))) is not None:
        parts.append(f"pits {pits:.1f}")
    if (spot := as_number(row.get("laser_spot"))) is not None:
        parts.append(f"laser {spot:g}")
    if (angle := as_number(row.get("steepest_angle_deg"))) is not None:
        parts.append(f"lamp to {angle:g}°")
    return ", ".join(parts) or "–"


def _running(own: Sequence[Segment]) -> dict[str, Any]:
    """Spin and load segment by segment; the figures are in the table of segments."""
    spin = [
        (float(one.number), value) for one in own if (value := one.number_of("spin_ratio_mean")) is not None
    ]
    ranges = [
        (float(one.number), low, high)
        for one in own
        if (low := one.number_of("spin_ratio_p05")) is not None
        and (high := one.number_of("spin_ratio_p95")) is not None
    ]
    load = [
        (float(one.number), value) for one in own if (value := one.number_of("load_mean_percent")) is not None
    ]
    return {
        "spin": line_chart(
            [Line("spin ratio", spin, ranges)] if spin else [],
            label="Mean spin ratio of each segment with the range from its 5th to its 95th percentile",
            x_name="segment",
            y_name="lap / table",
        ),
        "load": line_chart(
            [Line("motor load", load)] if load else [],
            label="Mean motor load of each segment in percent",
            x_name="segment",
            y_name="load, %",
        ),
    }


def _marks(marks: MarksPicture | None) -> dict[str, Any] | None:
    if marks is None or not marks.steps:
        return None
    steps = list(enumerate(marks.steps, start=1))
    two = [(float(i), abs(step.two_fold) * 100) for i, step in steps]
    three = [(float(i), abs(step.three_fold) * 100) for i, step in steps]
    used = set(range(1, marks.count + 1)) - set(marks.unused)
    words = ", ".join(map(str, sorted(used))) or "none"
    return {
        "dial": rim_dial(
            marks.count,
            used,
            marks.steps[-1].mark,
            label=f"Marks used in this pass of {marks.count}: {words}",
        ),
        "left": line_chart(
            [Line("two-fold", two), Line("three-fold", three)],
            label="Print-through left after each segment in percent of one place; figures in the table",
            x_name="segments at marks",
            y_name="left, %",
            y_range=(0.0, 100.0),
        ),
        "table": [
            (i, step.mark, f"{abs(step.two_fold):.0%}", f"{abs(step.three_fold):.0%}") for i, step in steps
        ],
        "words": words,
        "unused": ", ".join(map(str, marks.unused)),
    }


def _blemishes(own: Sequence[Segment], looks: Sequence[Entry]) -> dict[str, Any]:
    table, places = list[dict[str, str]](), list[tuple[str, float, float]]()
    for look in looks:
        for one in look.fields.get("blemishes") or ():
            angle, radius = (as_number(one.get(key)) for key in ("angle_deg", "radius_m"))
            if angle is None or radius is None:
                continue
            number = str(len(table) + 1)
            places.append((number, angle, radius))
            length = as_number(one.get("length_m"))
            table.append(
                {
                    "number": number,
                    "at": _day(look.at),
                    "kind": _clean(one.get("kind", "")),
                    "angle": f"{angle:.0f}°",
                    "radius": f"{radius * 1000:.0f} mm",
                    "length": "–" if length is None else f"{length * 1000:.0f} mm",
                    "note": _clean(one.get("note", "")),
                }
            )
    if not table:
        return {"picture": "", "table": []}
    facts = own[-1].fields if own else {}
    widest = max(radius for _, _, radius in places)
    rim = as_number(facts.get("mirror_radius_m")) or math.ceil(widest * 1.05 * 100) / 100 or 0.01
    hole = as_number(facts.get("mirror_hole_radius_m")) or 0.0
    label = "Map of blemishes seen from the front; places in the table"
    return {"picture": glass_map(places, max(rim, widest), hole, label=label), "table": table}


def _day(at: str) -> str:
    return _clean(at[:16].replace("T", " "))


_ROW_FIGURES = (
    ("polishing_s", 1, 1 / 60),
    ("table_turns", 0, 1.0),
    ("useful_turns", 0, 1.0),
    ("spin_ratio_mean", 3, 1.0),
    ("spin_ratio_p05", 2, 1.0),
    ("spin_ratio_p95", 2, 1.0),
    ("load_mean_percent", 1, 1.0),
    ("load_n", 0, 1.0),
    ("post_offset_m", 1, 1000.0),
    ("work_rpm", 1, 1.0),
)


def _segment_row(one: Segment) -> list[str]:
    return [
        str(one.number),
        _day(one.started_at),
        _clean(one.fields.get("mark") or "–"),
        *(_figure(one.number_of(name), digits, factor) for name, digits, factor in _ROW_FIGURES),
        _clean(str(one.fields.get("wet_down", "")).replace("_", " ")),
        _clean(ended(one.fields) + (" (simulated)" if one.fields.get("simulated") is True else "")),
    ]


def _figure(value: float | None, digits: int, factor: float) -> str:
    return "–" if value is None else f"{value * factor:.{digits}f}"


def _remarks(book: Logbook) -> list[tuple[str, str, str]]:
    """Notes, decisions and corrections, oldest first."""
    words = []
    for entry in book.of_kind("note", "decision", "correction"):
        fields = entry.fields
        if entry.kind == "correction":
            if fields.get("why") == LAP_LIFTED:
                continue
            changed = [f"{k}: {v}" for k, v in fields.items() if k not in ("corrects", "why")]
            text = f"{', '.join(changed)} ({fields.get('why', '')})"
        else:
            care = f"lap {fields['lap_care']}: " if fields.get("lap_care") else ""
            text = f"{care}{fields.get('text') or fields.get('decision') or ''}"
        words.append((_day(entry.at), _clean(entry.kind), _clean(text)))
    return words
