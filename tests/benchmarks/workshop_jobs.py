"""Jobs of the simulated workshop as the planner sees them: reckoned at a stage, done with and without advice.

The plain baseline is what a person does on squared paper: a straight line through the last grey scores of a
zone over the segments, and where it meets 0.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from benchctl.planner.advice import Bench, Suggestion, suggest
from benchctl.planner.depth import ZoneDepths
from benchctl.planner.history import History
from benchctl.planner.progress import ZONES, Reckoning, ranges
from benchctl.planner.what_if import last_of, range_of
from tests.benchmarks.workshop import Work, run_out, start

STAGES = (0.25, 0.5, 0.75, 0.9)
BASELINE_LOOKS = 4


def history_of(work: Work) -> History:
    """The planner's history, from the records the logbook would hold."""
    history = History(work.job.mirror.name)
    for kind, fields in work.records:
        history.take(kind, fields)
    return history


@dataclass(frozen=True)
class Stage:
    """One job at one stage: segments left by zone, true, reckoned (10, 50, 90 %) and by the baseline."""

    seed: int
    share: float
    whole: float
    left: np.ndarray
    reckoned: np.ndarray
    last: np.ndarray
    baseline: np.ndarray


@dataclass(frozen=True)
class Told:
    """Zones called finished over a whole job: how many, and how many of them too early."""

    zones: int
    early: int
    worst: float
    """Most segments by which a zone was called finished too early."""
    late: list[float] = field(default_factory=list)
    """Segments after a zone was clear until it was called finished."""


def stages(seed: int, shares: tuple[float, ...] = STAGES) -> list[Stage]:
    """A job polished to its end at one setting, and reckoned at each stage with what was known then."""
    work = run_out(start(seed))
    depths = ZoneDepths(work.job)
    finish, history = work.finish()[:ZONES], history_of(work)
    whole = float(finish.max())
    rows = []
    for share in shares:
        after = round(share * whole)
        known = history.until(after)
        left = Reckoning(work.job, known, depths=depths).segments_left()
        reckoned = np.array([one.as_list() for one in ranges(left)])[:ZONES]
        last = np.array(range_of(last_of(left)).as_list())
        rows.append(Stage(seed, share, whole, finish - after, reckoned, last, straight_line(known)))
    return rows


def straight_line(history: History) -> np.ndarray:
    """Segments left by zone, by the last looks' grey scores; what cannot be told counts as what was done."""
    looks = history.looks[-BASELINE_LOOKS:]
    found = []
    for zone in range(ZONES):
        at = np.array([look.after for look in looks], dtype=float)
        grey = np.array([look.rings[zone].grey or 0.0 for look in looks])
        if len(looks) < 2 or np.ptp(at) == 0.0:
            found.append(float(history.done))
            continue
        slope, level = np.polyfit(at, grey, 1)
        ends = -level / slope if slope < -1e-9 else history.done + (0.0 if grey[-1] == 0.0 else history.done)
        found.append(min(max(float(ends) - history.done, 0.0), 5.0 * history.done))
    return np.array(found)


@dataclass
class Followed:
    """A job done with the suggestions followed: segments until the last zone was clear, and what was said."""

    finish: float
    said: Counter[str]
    told: Told


def follow(seed: int, *, wrong_post: bool, most: int = 120) -> Followed:
    """Do a job, look when due, and do what is suggested after each look."""
    work = start(seed, wrong_post=wrong_post)
    depths = ZoneDepths(work.job)
    said: Counter[str] = Counter()
    called: dict[int, int] = {}
    while not work.clear[:ZONES].all() and work.done < most:
        work.polish()
        if not work.look_due():
            continue
        work.look()
        reckoning = Reckoning(work.job, history_of(work), depths=depths)
        for zone, finished in enumerate(reckoning.finished()[:ZONES]):
            if finished:
                called.setdefault(zone, work.done)
        obey(work, suggest(reckoning, Bench()), said)
    _look_on(work, called, depths)
    return Followed(float(work.finish()[:ZONES].max()), said, told(work, called))


def obey(work: Work, advice: Suggestion | None, said: Counter[str]) -> None:
    """Do what is suggested, and keep the decision."""
    if advice is None:
        return
    said[advice.act] += 1
    if advice.act == "post":
        work.offset_m = advice.changes["post_offset_m"]
    elif advice.act == "gentler":
        work.load_share *= 0.85
        work.speed_share *= 0.8
    work.records.append(
        (
            "decision",
            {"decision": advice.words, "act": advice.act, "taken": "accepted", "changes": advice.changes},
        )
    )


def _look_on(work: Work, called: dict[int, int], depths: ZoneDepths) -> None:
    """A few segments and looks more, until every zone is called finished."""
    for _ in range(8):
        if len(called) == ZONES:
            return
        work.polish()
        work.look()
        reckoning = Reckoning(work.job, history_of(work), depths=depths)
        for zone, finished in enumerate(reckoning.finished()[:ZONES]):
            if finished:
                called.setdefault(zone, work.done)


def told(work: Work, called: dict[int, int]) -> Told:
    """How right the calls were; a zone called finished before its true end counts as too early."""
    finish = work.finish()
    early = [float(finish[zone] - after) for zone, after in called.items()]
    return Told(
        zones=len(called),
        early=sum(one > 0.0 for one in early),
        worst=max([0.0, *early]),
        late=[-one for one in early if one <= 0.0],
    )


def alone(seed: int, *, wrong_post: bool) -> float:
    """Segments until the last zone is clear with nothing changed."""
    return float(run_out(start(seed, wrong_post=wrong_post)).finish()[:ZONES].max())
