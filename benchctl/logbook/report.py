"""One HTML file for a mirror: work, progress by zone, spin and load, marks, blemishes, segments, remarks.

No scripts, no network, everything escaped; the same logbook gives the same bytes, so nothing in it
depends on when or where the report was made.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources
from itertools import pairwise
from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.charts import Event, Line, line_chart
from benchctl.logbook.dials import rim_dial
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import mirrors, totals
from benchctl.logbook.reader import Logbook
from benchctl.logbook.report_glass import blemishes, clean, day, depth, progress
from benchctl.logbook.report_remarks import remarks
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.logbook.text import ended
from benchctl.logbook.trends import changes, worst_zones
from benchctl.units import FORCE, LENGTH, METRIC, mark_of, printable, show_number

ROWS_A_COLUMN = 15


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


def report_html(
    book: Logbook,
    *,
    mirror: str | None = None,
    marks: MarksPicture | None = None,
    system: str = METRIC,
) -> str:
    """The report on one mirror as HTML, lengths and forces in the units of `system`."""
    import jinja2

    name = mirror_shown(book, mirror)
    own = [one for one in segments(book) if str(one.fields.get("mirror", "")) == name]
    looks = [one for one in inspections(book) if one.fields.get("mirror") in (name, "", None)]
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True)
    source = resources.files("benchctl.logbook").joinpath("report.html.j2").read_text(encoding="utf-8")
    return environment.from_string(source).render(
        mirror=clean(name),
        segments=own,
        totals=totals(own),
        damage=len(book.damaged) + len(book.breaks),
        simulated=sum(1 for one in own if one.fields.get("simulated") is True),
        glance=_glance(own, looks, marks),
        progress=progress(own, looks),
        depth=depth(own),
        running=_running(own, _events(book, own, system)),
        marks=_marks(marks),
        blemishes=blemishes(own, looks, system),
        heads=_row_heads(system),
        rows=[_segment_row(one, system) for one in own],
        remarks=remarks(book, system),
    )


def _glance(
    own: Sequence[Segment], looks: Sequence[Entry], marks: MarksPicture | None
) -> list[tuple[str, str]]:
    """What to know at first sight: name and words."""
    if not own:
        return []
    done = totals(own)
    found = [
        ("Segments", f"{done['segments']}, {own[0].started_at[:10]} to {own[-1].ended_at[:10]}"),
        ("Polishing", f"{done['polishing_h']:.2f} h, {done['useful_turns']:.0f} useful turns"),
        ("Stopped early", str(sum(1 for one in own if one.fields.get("outcome") != "completed"))),
    ]
    if marks is not None and marks.steps:
        used = marks.count - len(marks.unused)
        last = marks.steps[-1]
        left = f"print left {abs(last.two_fold):.0%} two-fold, {abs(last.three_fold):.0%} three-fold"
        found.append(("Marks", f"{used} of {marks.count} used in this pass; {left}"))
    if looks:
        worst = ", ".join(sorted(worst_zones(looks[-1]))).replace("edge", "last 5 mm")
        found.append(("Last look", f"{day(looks[-1].at)}; lags: {f'zone {worst}' if worst else 'none'}"))
    return [(name, clean(words)) for name, words in found]


def _events(book: Logbook, own: Sequence[Segment], system: str) -> list[Event]:
    """What was changed, at the number of the first segment after it: settings, and care of the lap."""
    found = []
    for before, after in pairwise(own):
        for words in changes(before, after, system):
            found.append(Event(float(after.number) - 0.5, clean(words.split(" ", 2)[2], 24)))
    ends = [one.n for one in own]
    for entry in book.of_kind("note"):
        place = bisect(ends, entry.n)
        if (care := entry.fields.get("lap_care")) and place < len(own):
            found.append(Event(float(own[place].number) - 0.5, clean(f"lap {care}", 24)))
    return sorted(found, key=lambda one: one.x)


def _running(own: Sequence[Segment], events: Sequence[Event]) -> dict[str, Any]:
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
            events=events,
        ),
        "load": line_chart(
            [Line("motor load", load)] if load else [],
            label="Mean motor load of each segment in percent",
            x_name="segment",
            y_name="load, %",
            events=events,
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
    last = marks.steps[-1]
    return {
        "dial": rim_dial(
            marks.count,
            used,
            last.mark,
            [
                ("two-fold", [step.two_fold for step in marks.steps]),
                ("three-fold", [step.three_fold for step in marks.steps]),
            ],
            label=f"Marks used in this pass of {marks.count}: {words}; print left, figures in the table",
        ),
        "left": line_chart(
            [Line("two-fold", two), Line("three-fold", three)],
            label="Print-through left after each segment in percent of one place; figures in the table",
            x_name="segments at marks",
            y_name="left, %",
            y_range=(0.0, 100.0),
            from_zero=True,
        ),
        "tables": [
            [(i, one.mark, f"{abs(one.two_fold):.0%}", f"{abs(one.three_fold):.0%}") for i, one in part]
            for part in (steps[at : at + ROWS_A_COLUMN] for at in range(0, len(steps), ROWS_A_COLUMN))
        ],
        "words": words,
        "unused": ", ".join(map(str, marks.unused)) or "none, a new pass begins",
        "now": f"two-fold {abs(last.two_fold):.0%}, three-fold {abs(last.three_fold):.0%}",
    }


_ROW_FIGURES = (
    ("Min", "polishing_s", 1, 1 / 60),
    ("Turns", "table_turns", 0, 1.0),
    ("Useful", "useful_turns", 0, 1.0),
    ("Spin", "spin_ratio_mean", 3, 1.0),
    ("5 %", "spin_ratio_p05", 2, 1.0),
    ("95 %", "spin_ratio_p95", 2, 1.0),
    ("Load %", "load_mean_percent", 1, 1.0),
    ("rpm", "work_rpm", 1, 1.0),
)
_ROW_QUANTITIES = (("Weight", "load_n", FORCE, 0), ("Offset", "post_offset_m", LENGTH, 1))


def _row_heads(system: str) -> list[str]:
    figures = [head for head, *_ in _ROW_FIGURES]
    quantities = [f"{head} {mark_of(kind, system)}" for head, _, kind, _ in _ROW_QUANTITIES]
    return ["No.", "Started", "Mark", *figures, *quantities, "Wet-down", "Ended"]


def _segment_row(one: Segment, system: str) -> list[str]:
    quantities = [
        "–"
        if (value := one.number_of(name)) is None
        else show_number(value, kind, system, _places(places, system))
        for _, name, kind, places in _ROW_QUANTITIES
    ]
    return [
        str(one.number),
        day(one.started_at),
        clean(one.fields.get("mark") or "–"),
        *(_figure(one.number_of(name), digits, factor) for _, name, digits, factor in _ROW_FIGURES),
        *quantities,
        clean(str(one.fields.get("wet_down", "")).replace("_", " ")),
        clean(ended(one.fields) + (" (simulated)" if one.fields.get("simulated") is True else "")),
    ]


def _places(metric: int, system: str) -> int:
    """Decimal places: inches and pounds take more than millimetres and newtons."""
    return metric if system == METRIC else metric + 1


def _figure(value: float | None, digits: int, factor: float) -> str:
    return "–" if value is None else f"{value * factor:.{digits}f}"
