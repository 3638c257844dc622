"""Hand-made spins for the tests: pulses and reports of a lap whose ratio and load are given functions."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field

from benchctl.lapwatch import LapWatch, WatchSettings

RPM = 30.0


def settings(targets: int = 6, **more: object) -> WatchSettings:
    """A 0.31 m lap on a 0.44 m mirror."""
    known: dict[str, object] = {
        "targets_per_turn": targets,
        "clock_tick_s": 0.001,
        "mirror_radius_m": 0.22,
        "lap_radius_m": 0.155,
        "post_offset_m": 0.1,
    }
    return WatchSettings(**(known | more))  # type: ignore[arg-type]


@dataclass
class Spin:
    """Plays a lap in steps of 1 ms; `lost` and `extra` name pulses by their number."""

    watch: LapWatch
    ratio: Callable[[float, float], float]
    """Spin ratio at a time (s) and lap angle (turns)."""
    load: Callable[[float], float] = lambda at_s: 40.0
    rpm: Callable[[float], float] = lambda at_s: RPM
    offsets: tuple[float, ...] = ()
    lost: Callable[[int], bool] = lambda number: False
    bounce: Callable[[int], bool] = lambda number: False
    noise: float = 0.01
    at_s: float = 0.0
    lap: float = 0.0
    number: int = 0
    states: list[tuple[float, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._random = random.Random(7)
        n = self.watch.settings.targets_per_turn
        places = self.offsets or tuple(k / n for k in range(n))
        self._places = sorted(places)
        self._next = 0

    def run(self, until_s: float) -> LapWatch:
        """Play on to a time."""
        dt, steps = 0.001, 0
        while self.at_s < until_s:
            self.at_s += dt
            steps += 1
            table = self.rpm(self.at_s)
            self.lap += self.ratio(self.at_s, self.lap) * table / 60.0 * dt
            while self.lap >= self._due():
                self._pass()
            if round(self.at_s * 1000) % 50 == 0:
                noisy = self.load(self.at_s) * (1.0 + self._random.gauss(0.0, self.noise))
                self.watch.status(self.at_s, self.rpm(self.at_s), table, noisy)
                self._note()
        return self.watch

    def _due(self) -> float:
        turn, k = divmod(self._next, len(self._places))
        return turn + self._places[k]

    def _pass(self) -> None:
        self._next += 1
        self.number += 1
        if not self.lost(self.number):
            self.watch.pulse(self.at_s)
            if self.bounce(self.number):
                self.watch.pulse(self.at_s + 0.0005)
            self._note()

    def _note(self) -> None:
        state = self.watch.state
        if not self.states or self.states[-1][1] != state:
            self.states.append((self.at_s, state))

    def seen(self, from_s: float = 0.0) -> list[str]:
        """States entered since a time."""
        return [state for at_s, state in self.states if at_s >= from_s]
