"""From a track to signs: jerk, drop, over, misses, and their going away."""

from __future__ import annotations

import math
from collections import deque

from benchctl.lapwatch.levels import Levels
from benchctl.lapwatch.load import MOST_FOR_GAP, GapLoad
from benchctl.lapwatch.placement import COST_LOST, COST_LOST_WEAK, best_rotation
from benchctl.lapwatch.reading import Reading
from benchctl.lapwatch.spin import severity, swings, turn_ratio
from benchctl.lapwatch.track import DOUBTFUL, SAME, Track
from benchctl.lapwatch.verdict import LapState

JERK_ON, JERK_OFF, JERK_OFF_TURNS = 0.25, 0.18, 4.0
BACK_SHARE = 0.12
HELD_SHARE = 0.06
"""Log ratio by which a one-turn mean may wander while the lap still holds its level."""
LEVEL_TURNS = 2.0
ASKED = 0.7
"""Share of the slide's limit from which the load is asked."""
CLEAN_SHARE = 0.06
CALM_RMS, MOST_ODD, HALF = 0.10, 2, 0.5
JUDGED = ("steady", "weak_signal")


class Signs:
    """Looks at each pulse of a lap that has settled once."""

    def __init__(self, levels: Levels, count: int) -> None:
        self.levels = levels
        self.count = count
        self.raw: deque[float] = deque(maxlen=2 * count + 6)
        """Mirror turns of the last pulses that could be targets."""
        self.quiet_lap = 0.0
        """Lap turns at which the lap last jerked."""
        self._under_lap = self._off_lap = 0.0
        self._held_lap, self._held_log = 0.0, 0.0
        self._load: GapLoad | None = None

    def begin(self, lap_turns: float) -> None:
        """The lap has been read anew, or a state began."""
        self.quiet_lap = self._under_lap = self._off_lap = self._held_lap = lap_turns

    def calm_turns(self, reading: Reading) -> float:
        """Lap turns for which it has neither jerked nor left its level, whatever that is."""
        return reading.lap - max(self.quiet_lap, self._held_lap)

    def seen(
        self, track: Track, state: LapState, turn_log: float, now: float, load: GapLoad | None
    ) -> set[str]:
        """Signs at this pulse: log of the one-turn mean, severity now, load of the last gap if asked for."""
        levels, best = self.levels, track.best
        reference = turn_log if levels.reference is None else levels.reference
        self._load = load
        signs: set[str] = set()
        if best.jerk > levels.jerk_limit or self._dropped(best, turn_log, reference):
            signs = self._alarm(track, reference)
        over = turn_log >= reference + levels.fast_share
        if not over:
            self._under_lap = best.lap
        elif best.lap - self._under_lap >= 1.0 + 0.5 / self.count:
            signs.add("over")
        if signs and state in JUDGED and self._calm_otherwise(track, state == "weak_signal"):
            return set()
        if best.weak > levels.weak_limit:
            signs.add("misses")
        elif best.share < CLEAN_SHARE:
            signs.add("clean")
        if now >= JERK_OFF:
            self.quiet_lap = best.lap
        elif best.lap - self.quiet_lap >= JERK_OFF_TURNS:
            signs.add("quiet")
        if abs(turn_log - self._held_log) >= HELD_SHARE:
            self._held_lap, self._held_log = best.lap, turn_log
        if abs(turn_log - reference) >= BACK_SHARE:
            self._off_lap = best.lap
        elif best.lap - self._off_lap >= LEVEL_TURNS:
            signs.add("level")
        return signs

    def _dropped(self, reading: Reading, turn_log: float, reference: float) -> bool:
        levels, by_load = self.levels, self._load_nats(reading)
        return (
            reading.drop + by_load > levels.drop_limit
            or -reading.slide > levels.slide_limit_after(by_load)
            or turn_log < reference - levels.drop_share
        )

    def doubts(self, reading: Reading) -> bool:
        """Whether a drop seems likely enough that the load should be asked."""
        levels = self.levels
        return reading.drop > levels.drop_limit - MOST_FOR_GAP or -reading.slide > ASKED * levels.slide_limit

    def _load_nats(self, reading: Reading) -> float:
        """Nats of the last gap's load for the slow lap that the reading shows in it."""
        usual = self.levels.habits.usual
        if self._load is None or usual is None:
            return 0.0
        return max(0.0, self._load.nats(reading.recent[-1].ratio / math.exp(usual)))

    def _alarm(self, track: Track, reference: float) -> set[str]:
        """Jerk or drop, if every likely reading shows one or the other."""
        names: set[str] = set()
        levels, best = self.levels, track.best
        proven = best.jerk > levels.jerk_limit or best.drop > levels.drop_limit
        for reading in track.likely(SAME if proven else DOUBTFUL):
            now, ratio = severity(reading), turn_ratio(reading, track.spans.count)
            if now is None or ratio is None:
                return set()
            jerk = reading.jerk > levels.jerk_limit and now > JERK_ON and swings(reading)
            if not jerk and not self._dropped(reading, math.log(ratio), reference):
                return set()
            if reading is best:
                names = {"jerk"} if jerk else {"drop"}
        return names

    def _calm_otherwise(self, track: Track, weak: bool) -> bool:
        """Whether the same pulses, begun at another target, tell of a true lap; then they are read so.

        Not with targets lost, though, while the load tells of a slow lap; nor with many of them lost, unless
        the pickup is known to be `weak`.
        """
        usual, spans = self.levels.habits.usual, track.spans
        pulses = list(self.raw)[-(spans.count + 4) :]
        if usual is None or spans.count < 2 or len(pulses) < spans.count:
            return False
        fit = best_rotation(pulses, spans, math.exp(usual), COST_LOST_WEAK if weak else COST_LOST)
        last = fit.steps[-1]
        odd = fit.extra if weak else fit.lost + fit.extra
        calm = fit.rms < CALM_RMS and odd <= MOST_ODD and abs(last.log_ratio - usual) < 0.1
        if not calm or last.pulse != len(pulses) - 1 or last.number % spans.count == track.best.target:
            return False
        if fit.lost and track.load is not None and track.load.nats(HALF) > 0.0:
            return False
        number = fit.steps[0].number
        old = track.best
        lap = old.lap - (last.number - number) / spans.count
        again = Reading(pulses[0], number % spans.count, usual, lap)
        for step in fit.steps[1:]:
            again.take(spans, self.levels.habits, pulses[step.pulse], step.number - number, track.window)
            number = step.number
        again.calm()
        again.weak, again.doubt, again.share = old.weak, old.doubt, old.share
        track.readings = [again]
        return True
