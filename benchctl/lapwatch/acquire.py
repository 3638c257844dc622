"""From the first pulses to a reading of them: spacing learned or a kept one found again."""

from __future__ import annotations

import math
from collections import deque
from statistics import fmean, pstdev

from benchctl.lapwatch.placement import (
    Fit,
    Spans,
    best_rotation,
    harmonic_limit,
    learn,
    once_per_turn,
    one_turn,
)
from benchctl.lapwatch.reading import Habits, Reading
from benchctl.lapwatch.spin import severity, turn_ratio, window_turns
from benchctl.lapwatch.track import Track

CALM = 0.22
CALM_TURNS, KNOWN_CALM_TURNS = 5.0, 3.0
"""Calm lap turns that make a lap steady; fewer for one whose spacing and ratio are known from before."""
KNOWN_SHARE = 0.12
"""Log ratio within which the lap must be of the one it is known by."""
LEARN_TURNS = 4
RELEARN_TURNS = 10
MOST_TRIED_TURNS = 6.0


class Acquire:
    """Gathers pulses (mirror turns) until a track can be laid through them."""

    def __init__(self, count: int, habits: Habits, kept: Spans | None) -> None:
        self.count = count
        self.habits = habits
        self.kept = kept
        self.raw: deque[float] = deque(maxlen=6 * count + 12)
        self.calm_from = 0.0
        """Lap turns of the track from which it has been calm."""
        self._pulses = 0

    def add(self, turns: float) -> None:
        """Take a pulse at a mirror angle."""
        if not self.raw or turns > self.raw[-1]:
            self.raw.append(turns)
            self._pulses += 1

    def retract(self, since: float) -> None:
        """Drop the pulses since a mirror angle."""
        while self.raw and self.raw[-1] >= since:
            self.raw.pop()

    def restart(self) -> None:
        """Forget the pulses, not the spacing."""
        self.raw.clear()
        self._pulses = 0
        self.calm_from = 0.0

    def due(self) -> bool:
        """Whether enough has come for another attempt."""
        return self._pulses % max(1, self.count // 2) == 0

    def due_turns(self) -> float:
        """Mirror turns at which a lap that cannot be read yet counts as stopped."""
        raw = self.raw
        if len(raw) < 3:
            return (raw[-1] if raw else 0.0) + 4.0
        return raw[-1] + max(1.0, 5.0 * (raw[-1] - raw[0]) / (len(raw) - 1))

    def rough_log_ratio(self) -> float | None:
        """Log of the spin ratio by the middle of the turns gathered; None before one."""
        turn = one_turn(list(self.raw), self.count)
        return -math.log(turn) if turn else None

    def better(self, track: Track) -> Track | None:
        """Another track, if the lap seems calm for longer by it.

        It is laid by a spacing learned anew, or by the kept one begun at another target: while one is kept,
        none is learned from a lap that does not seem calm.
        """
        calm, calm_from = self.calm_turns(track.best), self.calm_from
        if not self.due() or calm > MOST_TRIED_TURNS:
            return None
        again = self.attempt() if self.kept is None else self._by_kept(self.kept)
        if again is not None and self.calm_turns(again.best) > calm:
            return again
        self.calm_from = calm_from
        return None

    def attempt(self) -> Track | None:
        """A track through the pulses gathered, by the kept spacing or by one learned from them."""
        if self.kept is not None:
            track = self._by_kept(self.kept)
            if track is not None or self._pulses < RELEARN_TURNS * self.count:
                return track
            self.kept = None
        if self._pulses <= LEARN_TURNS * self.count:
            return None
        found = learn(list(self.raw), self.count)
        if found is None or once_per_turn(found[0].widths) > harmonic_limit(self.count):
            return None
        return self._replay(*found)

    def _by_kept(self, spans: Spans) -> Track | None:
        count = self.count
        need = math.ceil(1.5 * count) + 1 if count > 1 else 3
        if len(self.raw) < need:
            return None
        pulses = list(self.raw)[-(2 * count + 2) :]
        turn = one_turn(pulses, count)
        if turn is None or turn <= 0.0:
            return None
        fit = best_rotation(pulses, spans, min(1.05, 1.0 / turn))
        if fit.rms > 0.15 or fit.lost + fit.extra > 0.2 * len(pulses) + 1.0:
            return None
        return self._replay(spans, fit, len(self.raw) - len(pulses))

    def _replay(self, spans: Spans, fit: Fit, skipped: int = 0) -> Track:
        """Lay a track along a fit, and note since when it has been calm."""
        pulses = list(self.raw)
        first = fit.steps[0]
        reading = Reading(pulses[first.pulse + skipped], first.number % spans.count, fit.steps[-1].log_ratio)
        track = Track(spans, self.habits, reading, window_turns(spans.count))
        self.calm_from = 0.0
        number = first.number
        for step in fit.steps[1:]:
            reading.take(spans, self.habits, pulses[step.pulse + skipped], step.number - number, track.window)
            number = step.number
            self.mark_calm(reading)
        reading.calm()
        reading.weak = reading.share = 0.0
        return track

    def mark_calm(self, reading: Reading) -> None:
        """Note whether the lap is calm at this pulse."""
        now = severity(reading)
        if now is not None and now >= CALM:
            self.calm_from = reading.lap

    def calm_turns(self, reading: Reading) -> float:
        """Lap turns in which it has been calm without a break."""
        return reading.lap - self.calm_from

    def calm_enough(self, reading: Reading, off_reference: float | None) -> bool:
        """Whether it has been calm for long enough; `off_reference` is None for a full start."""
        known = self.kept is not None or self.count == 1
        known = known and off_reference is not None and abs(off_reference) < KNOWN_SHARE
        return self.calm_turns(reading) >= (KNOWN_CALM_TURNS if known else CALM_TURNS) - 0.02


def level_and_scatter(reading: Reading, count: int) -> tuple[float, float]:
    """Log of the last turn's mean ratio, and standard deviation of the log ratio from gap to gap."""
    ratio = turn_ratio(reading, count)
    logs = [math.log(speed) for _, _, speed in reading.recent[1:]]
    return (fmean(logs) if ratio is None else math.log(ratio)), pstdev(logs)
