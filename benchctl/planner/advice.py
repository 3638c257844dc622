"""At most one suggestion, with what it would do by ring, its doubt, and a reason that can be checked.

Nothing here is ever done by itself. The first of these that holds is the suggestion: the glass is finished;
the lap lags; it lags though the post was freed; it jerks; its drag has changed; the end is near; the post
stands where one zone will be left over. Thresholds are judgements, held against the simulated workshop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median

import numpy as np

from benchctl.planner.history import Done, History
from benchctl.planner.post_move import best_move
from benchctl.planner.progress import SIGMAS, ZONES, Range, Reckoning, Settings, ranges
from benchctl.planner.regime import GENTLER_LOAD, GENTLER_SPEED, gentler_due, is_gentle

LAG = 0.08
"""A spin ratio so far below the usual one is a lag to act on."""
JERKY_SHARE = 0.15
"""Of a segment's time with a lap that jerks, from which it is pressed again."""
END_PASS_WITHIN = 3
"""A pass of marks that takes more segments than this is not ended for its own sake."""
DRAG_ROSE, DRAG_FELL = 1.15, 0.85
"""Motor effort for the load, now over after the lap was cared for, that is acted on."""
DRAG_WINDOW, DRAG_APART = 3, 4
"""Segments whose mean is compared, and least between the first and the last that are."""
LOOKS_TO_MOVE = 3
"""So many looks with the post where it stands before a move is suggested: one look has a bias of its own."""
SAME_PLACE_M = 0.0004
"""Post positions nearer than this are one: the scale is read to the millimetre."""
QUIET_SEGMENTS = 2
"""For so many segments a suggestion that was declined is not made again."""
EFFECT_DOUBT = 0.3
"""How far an effect may be off, as a share of itself (1 sigma), until the log says better (judgement)."""
LEAST_EFFECT = 0.02
"""An effect predicted smaller than this is as doubtful as one of this size."""


@dataclass(frozen=True)
class Suggestion:
    """One thing to do. `effect` by ring: depth of a segment more or less (0.1 = 10 % more), with its 80 %
    range; empty where it does not change the depth. `left` by ring: segments left if it is followed."""

    act: str
    words: str
    reason: str
    changes: dict[str, float] = field(default_factory=dict)
    effect: tuple[float, ...] = ()
    effect_low: tuple[float, ...] = ()
    effect_high: tuple[float, ...] = ()
    left: list[Range] | None = None
    saves: Range | None = None


@dataclass(frozen=True)
class Bench:
    """What the suggestion needs to know beside the history: segments until the pass of marks ends (None: not
    known) and how far earlier predictions were off (`followup.doubt`)."""

    pass_ends_in: int | None = None
    effect_doubt: float = EFFECT_DOUBT


Rule = Callable[[Reckoning, Bench], Suggestion | None]


def suggest(reckoning: Reckoning, bench: Bench | None = None) -> Suggestion | None:
    """The one suggestion, or None where nothing is worth changing."""
    known = bench or Bench()
    for rule in _RULES:
        found = rule(reckoning, known)
        if found is not None:
            return found
    return None


def _finished(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    if not all(reckoning.finished()[:ZONES]):
        return None
    odd = bench.pass_ends_in or 0
    if 0 < odd <= END_PASS_WITHIN:
        return Suggestion(
            "end_pass",
            f"{odd} more to end the pass of marks, then stop",
            f"No pit and no laser spot in any zone at the last look, and {odd} of the marks are unused: "
            "a whole pass leaves least of the table's print.",
        )
    rest = f"; {odd} marks of the pass stay unused, too many to end it for" if odd else ""
    return Suggestion(
        "stop",
        "stop: polished out",
        f"No pit and no laser spot in any zone at the last look, edge to centre{rest}.",
    )


def _lag(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    done = reckoning.history.segments
    if not done or done[-1].spin_ratio is None:
        return None
    usual = usual_spin(reckoning)
    last = done[-1].spin_ratio
    if last > usual - LAG:
        return None
    now = Settings(done[-1].load_n, done[-1].post_offset_m, last, reckoning.settings.useful_turns)
    there = Settings(now.load_n, now.post_offset_m, usual, now.useful_turns)
    freed = [one for one in reckoning.history.decisions if one.act == "free_post" and one.followed]
    again = bool(freed) and len(done) - freed[-1].after <= 2
    act = "weights" if again else "free_post"
    words = "centre the weights on the lap" if again else "free the post: clean, oil, set upright"
    cause = "though the post was freed" if again else "drag at the post, or a load off the lap's centre"
    return _with_effect(
        reckoning,
        bench,
        Suggestion(
            act,
            words,
            f"In segment {done[-1].number} the lap turned at {last:.2f} of the table's speed, usual here is "
            f"{usual:.2f}: {cause}; a lag takes from the inner zones.",
        ),
        now,
        there,
    )


def usual_spin(reckoning: Reckoning) -> float:
    """The spin ratio that is usual on this set-up: the median before the last segment, else the predicted."""
    before = [one.spin_ratio for one in reckoning.history.segments[:-1] if one.spin_ratio is not None]
    offset = reckoning.settings.post_offset_m
    return median(before) if len(before) >= 3 else reckoning.depths.spin_ratio(offset)


def _jerks(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    done = reckoning.history.segments
    if not done or done[-1].jerky_share < JERKY_SHARE:
        return None
    return Suggestion(
        "press",
        "press the lap again before the next segment",
        f"The lap turned jerkily for {done[-1].jerky_share:.0%} of segment {done[-1].number}: it does not "
        "lie evenly on the glass.",
    )


def _drag(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    """Motor load for the load on the lap, now against after the lap was last cared for."""
    history = reckoning.history
    since = history.segments_since_care("trimmed", "remade", "pressed", "charged")
    fresh = history.segments[len(history.segments) - since :]
    if since < DRAG_APART + DRAG_WINDOW:
        return None
    early, late = _mean_drag(fresh[:DRAG_WINDOW]), _mean_drag(fresh[-DRAG_WINDOW:])
    if early is None or late is None:
        return None
    change = late / early
    told = f"The motor needed {abs(change - 1):.0%} {'more' if change > 1 else 'less'} in the last "
    told += f"{DRAG_WINDOW} segments than in the first {DRAG_WINDOW} since the lap was cared for: "
    if change >= DRAG_ROSE:
        return Suggestion("trim", "trim the channels", told + "channels that close make the lap drag.")
    if change <= DRAG_FELL:
        return Suggestion("charge", "brush and charge afresh", told + "a glazed or starved lap skates.")
    return None


def _mean_drag(some: Sequence[Done]) -> float | None:
    shares = [one.load_percent / one.load_n for one in some if one.load_percent and one.load_n > 0.0]
    return float(np.mean(shares)) if len(shares) == DRAG_WINDOW else None


def _gentler(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    if is_gentle(reckoning) or _declined_lately(reckoning.history, "gentler") or not gentler_due(reckoning):
        return None
    now = reckoning.settings
    there = Settings(GENTLER_LOAD * now.load_n, now.post_offset_m, now.spin_ratio, now.useful_turns)
    segment = reckoning.job.segment
    last = reckoning.history.segments[-1]
    changes = {
        "load_n": round(there.load_n, 1),
        "work_rpm": round(GENTLER_SPEED * last.work_rpm, 1),
        "length_s": round(segment.length_s / GENTLER_SPEED),
    }
    left = reckoning.segments_left()[:, :ZONES].max(axis=1)
    return _with_effect(
        reckoning,
        bench,
        Suggestion(
            "gentler",
            f"lighter and slower: {there.load_n:.0f} N, {changes['work_rpm']:g} rpm, the same turns",
            f"The last zone is {np.percentile(left, 10):.1f} to {np.percentile(left, 90):.1f} segments from "
            "clear: what is left to gain is small, what heat, drag and a late scratch can spoil is not.",
            changes,
        ),
        now,
        there,
    )


def _post(reckoning: Reckoning, bench: Bench) -> Suggestion | None:
    if _looks_here(reckoning.history) < LOOKS_TO_MOVE or _declined_lately(reckoning.history, "post"):
        return None
    move = best_move(reckoning, bench.effect_doubt)
    if move is None:
        return None
    now = reckoning.settings
    there = Settings(now.load_n, move.offset_m, now.spin_ratio, now.useful_turns)
    way = "outward" if move.by_m > 0 else "inward"
    return _with_effect(
        reckoning,
        bench,
        Suggestion(
            "post",
            f"post {abs(1000 * move.by_m):.0f} mm {way}, to {1000 * move.offset_m:.0f} mm",
            f"Zone {move.last_zone} will be the last: {move.last_now.likely:.1f} segments against "
            f"{move.first_now:.1f} of zone {move.first_zone}; {abs(1000 * move.by_m):.0f} mm {way} gives it "
            f"{move.gain:+.0%} a segment.",
            {"post_offset_m": round(move.offset_m, 4)},
            saves=move.saves,
        ),
        now,
        there,
    )


def _looks_here(history: History) -> int:
    """Looks since the post was put where it stands."""
    here = history.segments[-1].post_offset_m if history.segments else 0.0
    elsewhere = [one.number for one in history.segments if abs(one.post_offset_m - here) > SAME_PLACE_M]
    return sum(look.after > max(elsewhere, default=0) for look in history.looks)


def _declined_lately(history: History, act: str) -> bool:
    declined = [one.after for one in history.decisions if one.act == act and not one.followed]
    return bool(declined) and history.done - declined[-1] <= QUIET_SEGMENTS


def _with_effect(
    reckoning: Reckoning, bench: Bench, bare: Suggestion, now: Settings, there: Settings
) -> Suggestion:
    """The suggestion with its effect by ring, the doubt of it, and what is left if it is followed."""
    effect = reckoning.model_depth(there) / reckoning.model_depth(now) - 1.0
    slack = SIGMAS * bench.effect_doubt * np.maximum(np.abs(effect), LEAST_EFFECT)
    return Suggestion(
        bare.act,
        bare.words,
        bare.reason,
        bare.changes,
        _rings(effect),
        _rings(effect - slack),
        _rings(effect + slack),
        ranges(reckoning.segments_left(there)),
        bare.saves,
    )


def _rings(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(round(float(one), 4) for one in values)


_RULES: tuple[Rule, ...] = (_finished, _lag, _jerks, _drag, _gentler, _post)
