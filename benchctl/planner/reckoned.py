"""The whole job reckoned, in groups of plain numbers: the answer of `benchctl reckon`. SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from benchctl.planner.advice import Bench, Suggestion, suggest
from benchctl.planner.beside_the_bench import Row, removal_ratio, side_by_side, standing
from benchctl.planner.depth import RING_NAMES, RINGS
from benchctl.planner.followup import doubt, look_back
from benchctl.planner.progress import NEVER, ZONES, Range, Reckoning, ranges
from benchctl.planner.regime import regime
from benchctl.planner.regime import why as why_gentler
from benchctl.planner.what_if import Outcome, last_of, last_zone, range_of

CANNOT_TELL, FINISHED, NOT_REACHED = "cannot tell yet", "finished", "the lap does not reach it"


def reckoned(reckoning: Reckoning, pass_ends_in: int | None = None) -> dict[str, Any]:
    """Progress, coefficient, suggestion, regime, what changes did, the bench beside the mechanics."""
    followups = look_back(reckoning)
    learned = doubt(followups)
    rows = side_by_side(reckoning)
    found = regime(reckoning)
    return {
        "mirror": reckoning.job.mirror.name,
        "segments_done": reckoning.history.done,
        "looks": len(reckoning.history.looks),
        "pits_counted": any(look.pits_counted for look in reckoning.history.looks),
        "settings": asdict(reckoning.settings),
        "rings": _rings(reckoning),
        "last_zone": _last(reckoning),
        "preston": _preston(reckoning),
        "suggestion": _suggestion(suggest(reckoning, Bench(pass_ends_in, learned))),
        "effect_doubt": learned,
        "regime": asdict(found) | {"why": why_gentler(found)},
        "changes": [asdict(one) | {"words": one.words} for one in followups],
        "bench": [_row(row) for row in rows],
        "standing": [asdict(one) | {"words": one.words} for one in standing(reckoning, rows)],
    }


def _rings(reckoning: Reckoning) -> list[dict[str, Any]]:
    left_m, left = ranges(reckoning.left_m), ranges(reckoning.segments_left())
    finished = reckoning.finished()
    taken = ranges(reckoning.taken_m.sum(axis=1))
    return [
        {
            "ring": RING_NAMES[i],
            "depth_taken_m": taken[i].as_list(),
            "depth_left_m": left_m[i].as_list(),
            "segments_left": left[i].as_list(),
            "verdict": verdict(left[i], finished[i]),
        }
        for i in range(RINGS)
    ]


def verdict(left: Range, finished: bool) -> str:
    """Of one ring: finished, cannot tell yet, or the range in words."""
    if finished:
        return FINISHED
    if left.low >= NEVER:
        return NOT_REACHED
    if not left.tells:
        return CANNOT_TELL
    if left.high < 0.05:
        return "clear, not yet seen"
    return f"{left.low:.1f} to {left.high:.1f} segments left"


def _last(reckoning: Reckoning) -> dict[str, Any]:
    left = reckoning.segments_left()
    last = range_of(last_of(left))
    return {
        "zone": last_zone(left),
        "segments_left": last.as_list(),
        "verdict": verdict(last, all(reckoning.finished()[:ZONES])),
    }


def _preston(reckoning: Reckoning) -> dict[str, Any]:
    own = range_of(reckoning.truths.preston_per_pa)
    return {
        "job_per_pa": reckoning.job.preston_per_pa,
        "prior_per_pa": reckoning.prior.preston_per_pa,
        "prior_spread": reckoning.prior.preston_spread,
        "own_per_pa": own.as_list(),
        "own_over_job": removal_ratio(reckoning).as_list(),
    }


def _suggestion(found: Suggestion | None) -> dict[str, Any] | None:
    if found is None:
        return None
    left = None if found.left is None else [one.as_list() for one in found.left]
    saves = None if found.saves is None else found.saves.as_list()
    return asdict(found) | {"left": left, "saves": saves}


def _row(row: Row) -> dict[str, Any]:
    return asdict(row) | {"depth_reckoned_m": row.depth_reckoned_m.as_list()}


def outcome(found: Outcome) -> dict[str, Any]:
    """What a change would do, as plain numbers."""
    return {
        "change": asdict(found.change),
        "effect": list(found.effect),
        "depth_left_m": None if found.left_m is None else [one.as_list() for one in found.left_m],
        "finish": [one.as_list() for one in found.finish],
        "finish_now": [one.as_list() for one in found.finish_now],
        "last": found.last.as_list(),
        "last_now": found.last_now.as_list(),
        "last_zone": found.last_zone,
        "last_zone_now": found.last_zone_now,
        "saves": found.saves.as_list(),
    }


def decision(found: Mapping[str, Any], *, mirror: str, segment: str, taken: str, why: str) -> dict[str, Any]:
    """The logbook's `decision` record for a suggestion, as `reckoned` has it, accepted or declined."""
    predicted = None
    if found["effect"]:
        predicted = {
            "zones": list(found["effect"][:ZONES]),
            "edge": found["effect"][ZONES],
            "zones_low": list(found["effect_low"][:ZONES]),
            "zones_high": list(found["effect_high"][:ZONES]),
            "left": found["left"],
        }
    return {
        "mirror": mirror,
        "segment": segment,
        "decision": found["words"] if taken == "accepted" else f"not followed: {found['words']}"[:200],
        "changes": dict(found["changes"]) if taken == "accepted" else {},
        "advised": found["words"],
        "why": why,
        "predicted": predicted,
        "act": found["act"],
        "taken": taken,
        "reason": found["reason"][:400],
    }
