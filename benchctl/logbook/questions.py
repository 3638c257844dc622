"""Questions a month of work asks of its logbook: work done, stops, water, lap care, mirrors compared.

Each takes the logbook and gives an Answer: sentences for people, rows for programs. Work is counted as
load x offset x useful turns (newton metres times turns), which by Preston's law is in proportion to the
mean depth removed while the whole load stays on the glass (Preston 1927, from memory).
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments

STANDING_TOO_LONG_S = 60.0
CARE_WINDOW = 3
NAMELESS = "Mirror without name"


@dataclass(frozen=True)
class Answer:
    """What the logbook says: sentences, and the rows they rest on."""

    sentences: list[str]
    rows: list[dict[str, Any]] = field(default_factory=list)


def work_of(segment: Segment) -> float:
    """Load x offset x useful turns, N m turns; 0 where a figure is missing."""
    load, offset = segment.number_of("load_n"), segment.number_of("post_offset_m")
    return (load or 0.0) * (offset or 0.0) * (segment.number_of("useful_turns") or 0.0)


def totals(some: Sequence[Segment]) -> dict[str, Any]:
    """Segments, hours, turns and work of some segments."""
    return {
        "segments": len(some),
        "polishing_h": round(sum(one.number_of("polishing_s") or 0.0 for one in some) / 3600, 3),
        "table_turns": round(sum(one.number_of("table_turns") or 0.0 for one in some), 1),
        "useful_turns": round(sum(one.number_of("useful_turns") or 0.0 for one in some), 1),
        "work_n_m_turns": round(sum(work_of(one) for one in some), 1),
    }


def mean_of(some: Sequence[Segment], name: str) -> float | None:
    """The mean of a field over the segments that have it."""
    values = [value for one in some if (value := one.number_of(name)) is not None]
    return round(sum(values) / len(values), 4) if values else None


def mirrors(some: Sequence[Segment]) -> list[str]:
    """The mirrors' names in the order they first appear."""
    return list(dict.fromkeys(str(one.fields.get("mirror", "")) for one in some))


def looks_after_each(found: Sequence[Segment], looks: Sequence[Entry]) -> list[list[Entry]]:
    """For each segment the looks at the glass between its end and the next one's."""
    ends = [one.n for one in found]
    after: list[list[Entry]] = [[] for _ in found]
    for look in looks:
        place = bisect(ends, look.n) - 1
        if place >= 0:
            after[place].append(look)
    return after


def work_done(book: Logbook) -> Answer:
    """How many useful hours and turns each mirror has had, and how many since pits were last counted."""
    found, rows, sentences = segments(book), [], []
    looks = inspections(book)
    for mirror in mirrors(found):
        own = [one for one in found if one.fields.get("mirror", "") == mirror]
        counted = [look.n for look in looks if of_mirror(look, mirror) and _pits_counted(look)]
        since = [one for one in own if one.n > counted[-1]] if counted else own
        whole, rest = totals(own), totals(since)
        rows.append({"mirror": mirror} | whole | {f"{key}_since_pits": value for key, value in rest.items()})
        after = "since pits were last counted" if counted else "and pits were never counted:"
        sentences.append(
            f"{mirror or NAMELESS}: {whole['polishing_h']:.2f} h and {whole['useful_turns']:.0f} "
            f"useful turns in {whole['segments']} segments; {after} {rest['polishing_h']:.2f} h and "
            f"{rest['useful_turns']:.0f} useful turns in {rest['segments']}."
        )
    return Answer(sentences or ["No segment yet."], rows)


def of_mirror(look: Entry, mirror: str) -> bool:
    """Whether a look is at this mirror; one that names none is at the only one there is."""
    return look.fields.get("mirror") in (mirror, "", None)


def _pits_counted(look: Entry) -> bool:
    return any(row.get("pits") for row in zone_rows(look.id, look.at, look.fields))


def stops(book: Logbook) -> Answer:
    """Which segments stopped early, why, and what was found on the glass."""
    found, rows = segments(book), list[dict[str, Any]]()
    for one, looks in zip(found, looks_after_each(found, inspections(book)), strict=True):
        if one.fields.get("outcome") == "completed":
            continue
        rows.append(
            {
                "segment_number": one.number,
                "started_at": one.started_at,
                "outcome": one.fields.get("outcome"),
                "stop_reason": one.fields.get("stop_reason"),
                "polishing_s": one.number_of("polishing_s"),
                "found": _findings(looks),
            }
        )
    sentences = [
        f"Segment {row['segment_number']}: {_words(row['stop_reason']) or _words(row['outcome'])} after "
        f"{(row['polishing_s'] or 0.0) / 60:.1f} min; {row['found']}."
        for row in rows
    ]
    return Answer([f"{len(rows)} of {len(found)} segments stopped early.", *sentences], rows)


def _words(value: Any) -> str:
    return str(value).replace("_", " ") if value else ""


def _findings(looks: Sequence[Entry]) -> str:
    if not looks:
        return "nobody looked at the glass before the next"
    words: list[str] = []
    for look in looks:
        blemishes = look.fields.get("blemishes")
        kinds = [one.get("kind") for one in blemishes or () if isinstance(one, dict)]
        words += [str(kind) for kind in kinds]
        if note := look.fields.get("note"):
            words.append(str(note))
    return "found: " + ", ".join(words) if words else "nothing found on the glass"


def water(book: Logbook) -> Answer:
    """Was a wet-down missed or the lap left standing, and did a sleek or dried compound follow."""
    found, rows = segments(book), list[dict[str, Any]]()
    for one, looks in zip(found, looks_after_each(found, inspections(book)), strict=True):
        standing = one.number_of("standing_s")
        missed = one.fields.get("wet_down") == "unanswered"
        stood = standing is not None and standing > STANDING_TOO_LONG_S
        if missed or stood:
            rows.append(
                {
                    "segment_number": one.number,
                    "started_at": one.started_at,
                    "wet_down": one.fields.get("wet_down"),
                    "standing_s": standing,
                    "found": _findings(looks),
                }
            )
    sentences = [
        f"Segment {row['segment_number']}: wet-down {_words(row['wet_down'])}, lap stood "
        f"{'an unknown time' if row['standing_s'] is None else format(row['standing_s'], '.0f') + ' s'}; "
        f"{row['found']}."
        for row in rows
    ]
    head = f"{len(rows)} of {len(found)} segments missed the wet-down or let the lap stand over a minute."
    return Answer([head, *sentences], rows)


def lap_care(book: Logbook) -> Answer:
    """When each lap was trimmed, brushed or remade, and how its spin and drag went before and after."""
    whole, rows = segments(book), []
    for entry in book.of_kind("note"):
        if not entry.fields.get("lap_care"):
            continue
        lap = entry.fields.get("lap", "")
        found = [one for one in whole if not lap or one.fields.get("lap", lap) == lap]
        before = [one for one in found if one.n < entry.n][-CARE_WINDOW:]
        after = [one for one in found if one.n > entry.n][:CARE_WINDOW]
        rows.append(
            {
                "at": entry.at,
                "lap": lap,
                "lap_care": entry.fields["lap_care"],
                "spin_before": mean_of(before, "spin_ratio_mean"),
                "spin_after": mean_of(after, "spin_ratio_mean"),
                "load_before_percent": mean_of(before, "load_mean_percent"),
                "load_after_percent": mean_of(after, "load_mean_percent"),
                "segments_since": sum(1 for one in found if one.n > entry.n),
            }
        )
    if not rows:
        return Answer(
            ["No care of a lap was told; tell it with `benchctl job trimmed`, `brushed`, `remade`."]
        )
    sentences = [
        f"{row['at'][:10]}: {row['lap'] or 'lap'} {row['lap_care']}, {row['segments_since']} segments ago; "
        f"spin {plain(row['spin_before'])} before, {plain(row['spin_after'])} after; load "
        f"{plain(row['load_before_percent'])} % before, {plain(row['load_after_percent'])} % after."
        for row in rows
    ]
    return Answer([f"Means of up to {CARE_WINDOW} segments of that lap before and after:", *sentences], rows)


def plain(value: float | None) -> str:
    """A figure for a sentence."""
    return "unknown" if value is None else f"{value:.3g}"
