"""Targets that should have come: how many are missing, and what that proves."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchctl.lapwatch.levels import Levels
from benchctl.lapwatch.load import GapLoad, Rise
from benchctl.lapwatch.pickup import loss_nats, silence_nats
from benchctl.lapwatch.reading import Reading
from benchctl.lapwatch.track import DOUBTFUL, Track
from benchctl.lapwatch.verdict import LapState
from benchctl.lapwatch.witness import Witness

STALL_BUDGET_HOURS = 200.0
"""One false stall in so many hours, if pulses are lost at random and load does not rise by chance."""
NEVER_BELOW, ENOUGH_IF_LIKELY = 0.15, 0.5
"""A bound on the ratio below this share of the usual one is a stop, with half the proof, if the ratio had
been falling or the load has risen."""
LEAST_RISE = ((0.35, 0.4), (0.45, 0.5), (0.69, 0.7), (0.85, 0.85))
LEAST_RISE_UNEVEN = ((0.35, 0.4), (0.40, 0.6))
"""With the bound on the ratio below the first share of the usual one, the load proves a stop if it shows the
second share of the predicted rise; and the same after uneven gaps. A lap that only jerks or slows to
half its speed shows up to 0.7 of the rise for a moment."""
UNEVEN_NATS = 8.0
"""Jerk chart above which more than one gap before the wait was uneven; one may be the stop itself."""
UNCHANGED, LEAST_JUMP = -1.0, 0.06
"""Nats of the load below which it speaks for a dead pickup and against a stop, where the predicted rise is so
large at least; where it is smaller nobody can tell."""
NO_HURRY = 2.3
"""Nats more than for a stop before a pickup is called silent whose lap, by its load, turns on: it may just
have gone weak."""
LOAD_ALONE = 8.0
"""Nats of load evidence that turn a silent pickup into a stopped lap."""
SETTLING_TURNS = 0.75
"""Mirror turns without a target before a lap that is still settling counts as stopped."""


@dataclass(frozen=True, slots=True)
class Wait:
    """What is known while a target is overdue."""

    turns: float
    """Mirror turns now."""
    usual: float
    """Usual spin ratio."""
    lost: float
    """Share of pulses usually lost."""
    rise: Rise | None
    """What the load tells of a stop; None where it is no witness."""
    gap: GapLoad | None
    """Load of the whole wait; None where a stop could not be told from a dead pickup by it."""
    fallen: bool
    """Whether the ratio had been falling before."""
    proof: float
    """Nats that prove a stop."""
    settling: bool = False
    silent: bool = False
    """Whether the pickup has been called silent already."""


def low_ratio(reading: Reading) -> float:
    """The lowest spin ratio that the reading leaves likely, if the lap goes on as it did."""
    slack = 2.5 * math.sqrt(reading.spread2)
    return math.exp(reading.track - min(0.6, max(0.1, slack)))


def due_turns(track: Track) -> float:
    """Mirror turns at which the next target counts as absent, by every likely reading."""
    rows = track.spans.rows
    return max(r.turns + rows[r.target][1] / low_ratio(r) for r in track.likely())


def unread_turns(turns: float, usual: float | None, count: int) -> float:
    """Mirror turns at which a lap whose place is not known, seen last at `turns`, counts as stopped."""
    return turns + (1.0 + 3.0 / count) / math.exp(usual or 0.0)


def absent(track: Track, turns: float) -> int:
    """Targets that are overdue at a mirror angle, by the likely reading that misses fewest."""
    return min(_absent(track, reading, turns) for reading in track.likely())


def _absent(track: Track, reading: Reading, turns: float) -> int:
    waited = (turns - reading.turns) * low_ratio(reading)
    row = track.spans.rows[reading.target]
    if waited >= row[-1]:
        return int(waited * track.spans.count)
    count = 0
    while row[count + 1] <= waited:
        count += 1
    return count


def bound(track: Track, turns: float) -> float:
    """The spin ratio cannot be above this while the next target has not come."""
    best = track.best
    waited = turns - best.turns
    return track.spans.rows[best.target][1] / waited if waited > 0.0 else math.inf


def slowest_at(track: Track, turns: float) -> float:
    """Log of the lowest ratio at which a target came at this mirror angle, by the likely readings."""
    came = [r.turns == turns and len(r.recent) > 1 for r in track.likely()]
    return min(math.log(r.recent[-1].ratio) for r in track.likely()) if all(came) else -math.inf


def proof_needed(gaps_per_hour: float) -> float:
    """Nats that prove a stop, from the budget and the number of gaps in an hour."""
    return math.log(STALL_BUDGET_HOURS * max(60.0, gaps_per_hour))


def _least_rise(track: Track, wait: Wait) -> float:
    """Share of the predicted rise that shows a lap at rest, and not one that turns slowly."""
    share = bound(track, wait.turns) / wait.usual
    uneven = track.best.jerk > UNEVEN_NATS and not wait.silent
    for below, rise in LEAST_RISE_UNEVEN if uneven else LEAST_RISE:
        if share < below:
            return rise
    return math.inf


def _by_load(track: Track, wait: Wait) -> float:
    """Nats of the load for a stop; minus infinity where the lap could still be turning slowly."""
    if wait.rise is None or wait.rise.share < _least_rise(track, wait):
        return -math.inf
    return wait.rise.nats


def _unchanged(rise: Rise | None, gap: GapLoad | None) -> bool:
    """Whether the load speaks for a dead pickup, in its steps and as a whole."""
    return rise is not None and gap is not None and max(rise.nats, gap.nats_of_stop()) < UNCHANGED


def judge_wait(track: Track, wait: Wait) -> str | None:
    """The sign "stopped" or "silent" if the wait proves one; None while it proves nothing."""
    missing = absent(track, wait.turns)
    if missing == 0:
        return None
    best = track.best
    evidence = silence_nats(best.doubt, wait.lost, missing - best.charged)
    if wait.settling and wait.turns - best.turns <= SETTLING_TURNS:
        return None
    by_load = -math.inf if wait.settling else _by_load(track, wait)
    if wait.silent:
        return "stopped" if by_load > LOAD_ALONE else None
    if evidence + by_load >= wait.proof:
        return "stopped"
    if evidence >= wait.proof:
        if wait.fallen or not _unchanged(wait.rise, wait.gap):
            return "stopped"
        return "silent" if evidence >= wait.proof + NO_HURRY else None
    likely = wait.fallen or (wait.rise is not None and wait.rise.nats > 0.0)
    never = bound(track, wait.turns) < NEVER_BELOW * wait.usual
    return "stopped" if likely and never and evidence > ENOUGH_IF_LIKELY * wait.proof else None


def slows(track: Track, turns: float, levels: Levels, load: GapLoad | None) -> bool:
    """Whether the wait for the next target, what came before and the load tell together of a drop.

    The wait counts for no more than it would cost to take the absent targets for lost; a reading that trails
    the best one needs as much less.
    """
    habits, rows = levels.habits, track.spans.rows
    if habits.usual is None:
        return False
    for reading in track.likely(DOUBTFUL):
        share = rows[reading.target][1] / max(turns - reading.turns, 1e-9) / math.exp(habits.usual)
        score = habits.drop_score(-math.log(share), track.spans.noise2[reading.target])
        lost = loss_nats(reading.doubt, habits.lost, _absent(track, reading, turns) - reading.charged)
        nats = reading.drop + min(score, lost) + (0.0 if load is None else load.nats(share))
        if score < 0.0 or nats - reading.score < levels.drop_limit:
            return False
    return True


class Absence:
    """Asks pulses and load together what a wait proves."""

    def __init__(self, levels: Levels, witness: Witness, gaps_per_hour: float) -> None:
        self._levels, self._witness = levels, witness
        self._proof = proof_needed(gaps_per_hour)
        self.undecided = False
        """Whether the load could not tell a stop from a dead pickup when last asked."""

    def pace(self, gaps_per_hour: float) -> None:
        """The usual number of gaps in an hour is now known."""
        self._proof = proof_needed(gaps_per_hour)

    def unread_sign(self, log_ratio: float | None, state: LapState) -> str | None:
        """As `sign`, for a lap whose pulses cannot be read, at about this log ratio, if that is known."""
        gap = rise = None
        if log_ratio is not None and (jump := self._witness.jump_at(log_ratio)) >= LEAST_JUMP:
            gap, rise = self._witness.of_gap(log_ratio), self._witness.rise(jump, 1.0)
        self.undecided = gap is None
        if state == "no_signal":
            return "stopped" if gap is not None and gap.nats_of_stop() > LOAD_ALONE else None
        return "silent" if _unchanged(rise, gap) else "stopped"

    def sign(self, track: Track, state: LapState, turns: float) -> str | None:
        """The sign "stopped" or "silent" if the wait until this mirror angle proves one."""
        levels, witness = self._levels, self._witness
        usual = levels.habits.usual
        if usual is None or state == "slowing":
            usual = track.best.track
        level = math.exp(usual)
        jump = witness.jump_at(usual)
        rise = witness.rise(jump, 1.0 if state == "no_signal" else level / bound(track, turns))
        gap = witness.of_gap(usual) if jump >= LEAST_JUMP else None
        fallen = state == "slowing" or -track.best.slide > 0.7 * levels.slide_limit
        self.undecided = gap is None and not fallen and (rise is None or rise.nats <= 0.0)
        return judge_wait(
            track,
            Wait(
                turns=turns,
                usual=level,
                lost=levels.habits.lost,
                rise=rise,
                gap=gap,
                fallen=fallen,
                proof=self._proof,
                settling=state == "settling",
                silent=state == "no_signal",
            ),
        )
