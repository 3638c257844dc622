"""Each state of the lap in one line: what it is and what to do, 60 characters at most."""

from __future__ import annotations

from benchctl.lapwatch.verdict import LapState

WORDS: dict[LapState, str] = {
    "waiting": "Lap not turning yet",
    "settling": "Lap is settling",
    "steady": "Spins true",
    "jerky": "Lap jerks - wet it or slow down",
    "slowing": "Lap is losing speed - probably drying, wet it",
    "stalled": "Lap has stopped - stop the table, wet now",
    "fast": "Lap runs with the mirror - look at the post",
    "weak_signal": "Pickup misses marks - look at it after this segment",
    "no_signal": "No lap signal - is the lap turning? Look at it",
}
