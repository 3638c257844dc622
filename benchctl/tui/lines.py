"""The words and figures of a snapshot as short lines; each fits its place at 80 columns. Pure."""

from __future__ import annotations

from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.snapshot import Snapshot
from benchctl.tui.digits import clock

NONE = "--"

KEY_OF: dict[Act, tuple[str, str]] = {
    Act.ARM: ("A", "arm"),
    Act.RUN: ("R", "run"),
    Act.SPEED_UP: ("S", "speed up"),
    Act.WETTED: ("W", "wetted"),
    Act.SLOWER: ("-", "slower"),
    Act.FASTER: ("+", "faster"),
    Act.HOLD_SLOW: ("H", "hold slow"),
    Act.GO_ON: ("G", "go on"),
    Act.LIFTED: ("L", "lifted"),
    Act.LOOKED: ("E", "enter the look"),
    Act.WATCHING: ("I", "I watch the lap"),
    Act.SILENCE: ("M", "mute"),
    Act.ACKNOWLEDGE: ("K", "seen"),
    Act.RESET: ("X", "reset"),
    Act.NEXT: ("N", "next segment"),
    Act.NOTE: ("T", "note"),
}
"""Key and name of each act, most wanted first; STOP is not among them: it is Space and Escape, always."""

_RANK = (
    Act.RUN, Act.ARM, Act.WETTED, Act.LIFTED, Act.SPEED_UP, Act.GO_ON, Act.RESET, Act.WATCHING, Act.LOOKED,
    Act.NEXT, Act.HOLD_SLOW, Act.SLOWER, Act.FASTER, Act.ACKNOWLEDGE, Act.SILENCE, Act.NOTE,
)  # fmt: skip


def number(value: float | None, places: int = 1) -> str:
    """A figure, or -- where it is not known or too old."""
    return NONE if value is None else f"{value:.{places}f}"


def origin(shot: Snapshot, pace: float | None) -> str:
    """Whether this is the simulated bench, and at what pace."""
    if not shot.simulated:
        return "BENCH"
    return f"SIMULATED x{pace:g}" if pace is not None else "SIMULATED"


def figures(shot: Snapshot) -> list[str]:
    """Asked, measured and expected, side by side."""
    expected = shot.lap.expected_ratio
    lap_expected = None if expected is None or shot.table_rpm is None else expected * shot.table_rpm
    rows = [
        ("", "asked", "measured", "expected"),
        ("table rpm", number(shot.set_rpm), number(shot.table_rpm), number(shot.target_rpm)),
        ("lap rpm", "", number(shot.lap.lap_rpm), number(lap_expected)),
        ("spin ratio", "", number(shot.lap.spin_ratio, 2), number(expected, 2)),
        ("load %", "", number(shot.load_percent, 0), ""),
    ]
    return [f"{name:<11}{asked:>7}{measured:>10}{wanted:>10}" for name, asked, measured, wanted in rows]


def water(shot: Snapshot) -> str:
    """Since the last wetting, against the time to dry."""
    if shot.since_wetted_s is None:
        return "water: not yet"
    dry = "" if shot.time_to_dry_s is None else f" of {clock(shot.time_to_dry_s)} to dry"
    return f"wetted {clock(shot.since_wetted_s)} ago{dry}"


def ahead(shot: Snapshot) -> str:
    """What comes next, and when."""
    when = "" if shot.next_in_s is None else f" in {clock(shot.next_in_s)}"
    return f"then: {shot.next_what}{when}"


def turns(shot: Snapshot) -> str:
    """Useful turns of all turns."""
    return f"useful turns {shot.useful_turns:.0f} of {shot.table_turns:.0f}"


def turning(shot: Snapshot) -> str:
    """Whether the table turns, by its sensor."""
    if shot.link == "lost":
        return "table: NO WORD"
    if shot.table_rpm is None:
        return "table: --"
    return "table: TURNING" if shot.turning else "table: at rest"


def big_time(shot: Snapshot) -> tuple[str, str]:
    """The time to show large, as mm:ss, and what it is."""
    if shot.state is State.STANDING and shot.standing_s is not None:
        return clock(shot.standing_s), "on the glass"
    if shot.state is State.WAITING and shot.next_in_s is not None:
        return clock(shot.next_in_s), "until it stops unwetted"
    if shot.state is State.ARMED and shot.next_in_s is not None:
        return clock(shot.next_in_s), "armed for"
    return clock(shot.left_s), "left of the segment"


def keys(shot: Snapshot, width: int) -> str:
    """The keys that do something now, as many as fit, most wanted first."""
    shown = ""
    for act in _RANK:
        if act in shot.allowed:
            key, name = KEY_OF[act]
            piece = f"{key} {name}"
            if len(shown) + len(piece) + 3 > width - 8:
                break
            shown = f"{shown}   {piece}" if shown else piece
    return f"{shown}   ? keys"
