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

UNDECIDED = "No lap signal, load cannot tell - treat as stopped, wet now"


def reason(
    state: LapState,
    ratio: float | None,
    before: float | None,
    severity: float | None,
    load_ratio: float | None,
    weak_share: float,
) -> str:
    """What a person can check by looking; `before` is the spin ratio of half a minute ago."""
    load = "" if load_ratio is None else f", load {_percent(load_ratio - 1.0)}"
    if state in ("slowing", "fast") and ratio is not None and before:
        return f"lap turns at {ratio / before:.2f} of what it did 30 s ago{load}"
    if state == "jerky" and severity is not None:
        return f"lap speed swings by {100.0 * severity:.0f} % to either side within a turn{load}"
    if state in ("stalled", "no_signal"):
        return f"no target has passed when it was due{load}"
    if state == "weak_signal":
        return f"{100.0 * weak_share:.0f} % of the targets were not seen lately"
    if state == "steady" and ratio is not None:
        return f"lap turns at {ratio:.2f} of the mirror's speed{load}"
    return ""


def _percent(share: float) -> str:
    if abs(share) < 0.02:
        return "unchanged"
    return f"{'up' if share > 0 else 'down'} {100.0 * abs(share):.0f} %"


def blind_spot(targets: int) -> str:
    """What so few targets cannot show; empty for six and more."""
    if targets == 1:
        return "1 target: a jerk once a turn cannot be seen, and a stop is known after more than a turn"
    if targets == 2:
        return "2 targets: a jerk once a turn can hardly be seen"
    if targets < 6:
        return f"{targets} targets: a jerk shows late and looks smaller than it is; 6 or more are better"
    return ""
