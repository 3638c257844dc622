"""What the glass gives: how it faded between looks, the depth of a segment, and whether that fell.

The share of pits left after a depth d is near exp(-d / length) until late (shape: Suratwala et al. 2006, read
as abstract), and grey follows it. So the logarithm of grey before over grey after is in proportion to the
depth between two looks, zone by zone; over the work done it says whether the glass still gives what it gave.
The length is not known, so only ratios are: in metres stands what the mechanics say (`zone_depths_m`).
Pits vanish faster than that towards the end, in all zones alike: counts say how zones compare, not the pace.
Scores are judgements in steps: two looks say little, a row of them says more.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from benchctl import units
from benchctl.logbook.export import zone_rows
from benchctl.logbook.lines import Entry
from benchctl.logbook.questions import Answer, mean_of, work_of
from benchctl.logbook.reader import Logbook
from benchctl.logbook.segments import Segment, inspections, segments
from benchctl.logbook.trends import changes
from benchctl.models.json_values import as_number

ZONE_NAMES = ("1", "2", "3", "4", "5", "edge")
LEAST_GREY, GREY_SD = 1.0, 0.3
"""Below so much grey a step says too little; how far a score may be off (both judgements)."""
LEAST_PITS, PITS_SCATTER = 2.0, 1.25
"""Below so many pits a field chance rules; scatter beside that of chance alone (judgement)."""
CLEAR = 2.0
"""So many standard errors apart is told as a difference."""


@dataclass(frozen=True)
class Fading:
    """Logarithm of a score before over after, and its standard error."""

    value: float
    error: float


def fading(before: Entry, after: Entry, *, pits: bool) -> dict[str, Fading]:
    """By zone, how much fainter it has become between two looks; zones whose scores cannot say are left out.

    By grey while both scores are large enough, else, with `pits`, by pits where both were counted.
    """
    old, new = _rows(before), _rows(after)
    found = {}
    for zone in ZONE_NAMES:
        one, two = old.get(zone, {}), new.get(zone, {})
        said = _by_grey(one, two) or (_by_pits(one, two) if pits else None)
        if said is not None:
            found[zone] = said
    return found


def _rows(look: Entry) -> dict[str, dict[str, Any]]:
    return {str(row["zone"]): row for row in zone_rows(look.id, look.at, look.fields)}


def _by_grey(one: Mapping[str, Any], two: Mapping[str, Any]) -> Fading | None:
    old, new = as_number(one.get("grey")), as_number(two.get("grey"))
    if old is None or new is None or min(old, new) < LEAST_GREY:
        return None
    return Fading(math.log(old / new), GREY_SD * math.hypot(1 / old, 1 / new))


def _by_pits(one: Mapping[str, Any], two: Mapping[str, Any]) -> Fading | None:
    old, new = as_number(one.get("pits_mean")), as_number(two.get("pits_mean"))
    if old is None or new is None or min(old, new) < LEAST_PITS:
        return None
    counted = (old * len(one["pits"]), new * len(two["pits"]))
    return Fading(math.log(old / new), math.sqrt(PITS_SCATTER * sum(1 / count for count in counted)))


@dataclass(frozen=True)
class Stretch:
    """What lies between two looks: the segments, and how much each zone faded."""

    before: Entry
    after: Entry
    segments: Sequence[Segment]
    faded: Mapping[str, Fading]

    @property
    def work(self) -> float:
        """Load x offset x useful turns, N m turns."""
        return math.fsum(work_of(one) for one in self.segments)

    @property
    def depth_m(self) -> float | None:
        """Mean depth of the five zones a segment, by the mechanics; None where a segment does not tell it."""
        told = [one.fields.get("zone_depths_m") for one in self.segments]
        known = [depths[:5] for depths in told if isinstance(depths, list) and len(depths) == len(ZONE_NAMES)]
        if not known or len(known) < len(told):
            return None
        return math.fsum(math.fsum(depths) / 5 for depths in known) / len(known)

    def rate(self, zone: str) -> Fading | None:
        """How much a zone faded for 1000 N m turns of work."""
        faded = self.faded.get(zone)
        if faded is None or self.work <= 0:
            return None
        return Fading(faded.value / self.work * 1000, faded.error / self.work * 1000)

    @property
    def mean(self) -> Fading | None:
        """The same over the five zones, the surer ones counting for more."""
        return weighted([rate for zone in ZONE_NAMES[:5] if (rate := self.rate(zone)) is not None])

    def row(self) -> dict[str, Any]:
        """For programs."""
        mean = self.mean
        rates = {zone: self.rate(zone) for zone in ZONE_NAMES}
        return {
            "from": self.before.at,
            "to": self.after.at,
            "segments": len(self.segments),
            "work_n_m_turns": round(self.work, 1),
            "depth_per_segment_m": self.depth_m,
            "fading_mean": None if mean is None else round(mean.value, 4),
            "fading_mean_error": None if mean is None else round(mean.error, 4),
            "fading": {zone: None if rate is None else round(rate.value, 4) for zone, rate in rates.items()},
            "spin_mean": mean_of(self.segments, "spin_ratio_mean"),
            "post_offset_m": mean_of(self.segments, "post_offset_m"),
            "room_temperature_c": mean_of(self.segments, "room_temperature_c"),
        }


def weighted(rates: Sequence[Fading]) -> Fading | None:
    """Their mean, each weighted by how sure it is; None of none."""
    if not rates:
        return None
    weights = [1 / rate.error**2 for rate in rates]
    total = math.fsum(weights)
    mean = math.fsum(weight * rate.value for weight, rate in zip(weights, rates, strict=True)) / total
    return Fading(mean, 1 / math.sqrt(total))


class Stretches:
    """Finds what lies between two looks, in the order of the logbook."""

    def __init__(self, found: Sequence[Segment]) -> None:
        self._found, self._ends = found, [one.n for one in found]

    def between(self, before: Entry, after: Entry, *, pits: bool = False) -> Stretch:
        """The segments between two looks, and how much each zone faded."""
        some = self._found[bisect_right(self._ends, before.n) : bisect_left(self._ends, after.n)]
        return Stretch(before, after, some, fading(before, after, pits=pits))


def rate(book: Logbook, system: str = units.METRIC) -> Answer:
    """What depth a segment gives, by the mechanics and by the glass, and whether that fell."""
    found, looks = segments(book), inspections(book)
    find = Stretches(found)
    spans = [find.between(*pair) for pair in pairwise(looks)]
    useful = [span for span in spans if span.mean is not None]
    rows = [span.row() for span in useful]
    head = _depth_sentence(found)
    if len(useful) < 2:
        return Answer([head, f"{_TOO_FEW}; it takes three looks with grey of {LEAST_GREY:g} and more."], rows)
    middle = useful[len(useful) // 2].before
    early, late = find.between(useful[0].before, middle), find.between(middle, useful[-1].after)
    halves = (early.mean, late.mean)
    if halves[0] is None or halves[1] is None:  # a zone that ran out of grey between them
        halves = (_over(useful[: len(useful) // 2]), _over(useful[len(useful) // 2 :]))
    sentences = [head, _rate_sentence(halves[0], halves[1]), *_meanwhile(book, found, middle, system)]
    return Answer(sentences, rows)


_TOO_FEW = "What the glass says: cannot tell yet"


def _over(spans: Sequence[Stretch]) -> Fading | None:
    return weighted([mean for span in spans if (mean := span.mean) is not None])


def _depth_sentence(found: Sequence[Segment]) -> str:
    told = [
        (one.number, math.fsum(depths[:5]) / 5)
        for one in found
        if isinstance(depths := one.fields.get("zone_depths_m"), list) and len(depths) == len(ZONE_NAMES)
    ]
    if not told:
        return "By the mechanics: no segment tells the depth it took."
    half = len(told) // 2
    mean = math.fsum(depth for _, depth in told) / len(told) * 1e6
    words = f"By the mechanics {mean:.3f} µm a segment over {len(told)} segments"
    if half:
        early, late = (math.fsum(d for _, d in part) / len(part) * 1e6 for part in (told[:half], told[half:]))
        words += f"; {early:.3f} in the first half, {late:.3f} in the second"
    return f"{words}."


def _rate_sentence(early: Fading | None, late: Fading | None) -> str:
    if early is None or late is None or early.value <= 0:
        return "What the glass says: cannot tell; the scores did not fall in the first half."
    share = late.value / early.value
    error = abs(share) * math.hypot(early.error / early.value, late.error / (late.value or math.inf))
    apart = abs(late.value - early.value) > CLEAR * math.hypot(early.error, late.error)
    verdict = "about the same as earlier"
    if apart:
        verdict = "less than earlier" if share < 1 else "more than earlier"
    elif error > 0.5:
        verdict = "cannot tell whether it changed"
    return (
        f"The glass gave {share:.0%} of what it gave at first for the same work (give or take {error:.0%}): "
        f"{verdict}. Scores are judged in steps."
    )


def _meanwhile(book: Logbook, found: Sequence[Segment], middle: Entry, system: str) -> list[str]:
    """What else changed between the halves: settings, care of the lap, the room."""
    words = [word for pair in pairwise(found) for word in changes(*pair, system)]
    care = [str(note.fields["lap_care"]) for note in book.of_kind("note") if note.fields.get("lap_care")]
    words += [f"lap {kind} {care.count(kind)} times" for kind in dict.fromkeys(care)]
    before, after = ([one for one in found if (one.n < middle.n) is first] for first in (True, False))
    warm, cold = mean_of(before, "room_temperature_c"), mean_of(after, "room_temperature_c")
    if warm is not None and cold is not None and abs(cold - warm) >= 1.0:
        first = units.show_number(warm, units.TEMPERATURE, system)
        words.append(f"room {first} then {units.show(cold, units.TEMPERATURE, system)}")
    return [f"Meanwhile: {'; '.join(words[:12])}."] if words else []
