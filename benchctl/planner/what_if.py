"""What a change would do from here: by ring how much more or less a segment takes, and when each is clear.

It starts from the log's real state: every possible truth goes on with the changed settings for so many
segments and then, where asked, back with the old ones.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchctl.errors import BadInput
from benchctl.planner.depth import RING_NAMES
from benchctl.planner.pits import Array
from benchctl.planner.progress import ZONES, Range, Reckoning, Settings, ranges

MOST_SEGMENTS = 200


@dataclass(frozen=True)
class Change:
    """What is changed: the post by so much (metres, outward above 0), the load to a share, and for how long.

    `segments` None: until the end.
    """

    post_m: float = 0.0
    load_share: float = 1.0
    segments: int | None = None


@dataclass(frozen=True)
class Outcome:
    """By ring: effect on the depth of a segment (0.1 = 10 % more), depth left after `segments` (metres), and
    segments from now until clear with and without the change; and the same of the zone that is last."""

    change: Change
    effect: tuple[float, ...]
    left_m: list[Range] | None
    finish: list[Range]
    finish_now: list[Range]
    last: Range
    last_now: Range
    last_zone: str
    last_zone_now: str
    saves: Range
    """Segments by which the last zone is clear earlier, over the truths."""


def what_if(reckoning: Reckoning, change: Change) -> Outcome:
    """The change from the present state. BadInput where it cannot be made."""
    settings = changed(reckoning.settings, change)
    now = reckoning.segments_left()
    there = _finish(reckoning, change, settings)
    before, after = (reckoning.model_depth(one) for one in (reckoning.settings, settings))
    left = None
    if change.segments is not None:
        taken = change.segments * reckoning.depth_each(settings) * reckoning.pace
        left = ranges(np.maximum(reckoning.left_m - taken, 0.0))
    return Outcome(
        change=change,
        effect=tuple(float(one) for one in after / before - 1.0),
        left_m=left,
        finish=ranges(there),
        finish_now=ranges(now),
        last=range_of(last_of(there)),
        last_now=range_of(last_of(now)),
        last_zone=last_zone(there),
        last_zone_now=last_zone(now),
        saves=range_of(last_of(now) - last_of(there)),
    )


def changed(settings: Settings, change: Change) -> Settings:
    """The settings with a change made. BadInput names what cannot be."""
    offset = settings.post_offset_m + change.post_m
    if offset < 0.0:
        raise BadInput(
            f"the post cannot go {-1000 * change.post_m:g} mm in: it stands at "
            f"{1000 * settings.post_offset_m:g} mm; give less"
        )
    if not 0.1 <= change.load_share <= 3.0:
        raise BadInput(f"a load of {change.load_share:g} times the present is out of range; give 0.1 to 3")
    if change.segments is not None and not 1 <= change.segments <= MOST_SEGMENTS:
        raise BadInput(f"{change.segments} segments are out of range; give 1 to {MOST_SEGMENTS}")
    return replace(settings, post_offset_m=offset, load_n=settings.load_n * change.load_share)


def _finish(reckoning: Reckoning, change: Change, settings: Settings) -> Array:
    """Segments until clear, particles x rings: the changed ones first, then the rest as it was."""
    there = reckoning.segments_left(settings)
    if change.segments is None:
        return there
    taken = change.segments * reckoning.depth_each(settings) * reckoning.pace
    rest = reckoning.segments_left(left_m=np.maximum(reckoning.left_m - taken, 0.0))
    return np.where(there <= change.segments, there, change.segments + rest)


def last_of(segments: Array) -> Array:
    """Segments until the last of the five zones is clear, a value a particle."""
    return np.asarray(segments[:, :ZONES].max(axis=1))


def last_zone(segments: Array) -> str:
    """The zone that is last in most truths."""
    places = np.bincount(segments[:, :ZONES].argmax(axis=1), minlength=ZONES)
    return RING_NAMES[int(places.argmax())]


def range_of(values: Array) -> Range:
    """10, 50, 90 % of values over the truths."""
    return ranges(values[:, None])[0]
