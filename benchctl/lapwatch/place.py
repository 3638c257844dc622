"""Where the lap stands: the track through its pulses, or the pulses from which one will be laid."""

from __future__ import annotations

import math

from benchctl.lapwatch.acquire import Acquire
from benchctl.lapwatch.signs import Signs
from benchctl.lapwatch.track import Track


class Place:
    """Holds the track, when its next target is due, and all lap turns so far."""

    def __init__(self, acquire: Acquire, signs: Signs) -> None:
        self._acquire, self._signs = acquire, signs
        self.track: Track | None = None
        self.due = math.inf
        """Mirror turns at which the next target counts as absent."""
        self._before = 0.0
        """Lap turns before the present track began."""

    @property
    def lap(self) -> float:
        """Lap turns on the present track."""
        return 0.0 if self.track is None else self.track.best.lap

    @property
    def all_turns(self) -> float:
        """Lap turns in all; goes on where a track is laid anew."""
        return self._before + self.lap

    def lay(self, track: Track) -> None:
        """Go on with another track through the same pulses."""
        self._before += self.lap - track.best.lap if self.track is not None else 0.0
        self.track = track
        self._signs.raw.clear()
        self._signs.raw.extend(self._acquire.raw)
        self._signs.begin(track.best.lap)

    def forget(self, due: float) -> None:
        """Nothing is known of where it stands; not known again by `due` (mirror turns), it has stopped."""
        self._before, self.track, self.due = self.all_turns, None, due
        self._acquire.restart()

    def retract(self, since: float) -> None:
        """Take back the pulses since a mirror angle."""
        self._acquire.retract(since)
        raw = self._signs.raw
        while raw and raw[-1] >= since:
            raw.pop()
        if self.track is not None:
            self.track.retract(since)
