"""The words and figures of a snapshot as short texts; each fits its place at 80 columns. Pure."""

from __future__ import annotations

from benchctl import units
from benchctl.guard.words import words_for
from benchctl.models.setup import STANDARD_GRAVITY_M_S2
from benchctl.segment.states import State
from benchctl.session.journal import words_of
from benchctl.session.snapshot import Line, Snapshot
from benchctl.tui.blocks import clock, clock_up

NONE = "--"
ROWS = ("table rpm", "lap rpm", "spin ratio", "load %")


def happened(line: Line, system: str) -> str:
    """One line of what happened, its quantities in the units of `system`."""
    metric = system == units.METRIC or not line.event
    return line.words if metric else words_of(line.event, line.details, system)


def number(value: float | None, places: int = 1) -> str:
    """A figure, or -- where it is not known or too old."""
    return NONE if value is None else f"{value:.{places}f}"


def origin(shot: Snapshot, pace: float | None) -> str:
    """Whether this is the simulated bench, and at what pace; empty on a real one."""
    if not shot.simulated:
        return ""
    return f"SIMULATED x{pace:g}" if pace is not None else "SIMULATED"


def figures(shot: Snapshot) -> list[str]:
    """Asked, measured, expected and the limit side by side: a heading and four rows of 45 columns."""
    expected = shot.lap.expected_ratio
    lap_expected = None if expected is None or shot.table_rpm is None else expected * shot.table_rpm
    cells = [
        ("", "asked", "measured", "expected", "limit"),
        (
            ROWS[0],
            number(shot.set_rpm),
            number(shot.table_rpm),
            number(shot.target_rpm),
            f"{shot.ceiling_rpm:g}",
        ),
        (ROWS[1], "", number(shot.lap.lap_rpm), number(lap_expected), ""),
        (ROWS[2], "", number(shot.lap.spin_ratio, 2), number(expected, 2), ""),
        (ROWS[3], "", number(shot.load_percent, 0), "", ""),
    ]
    return [
        f"{name:<11}{asked:>7}{found:>10}{wanted:>10}{limit:>7}"
        for name, asked, found, wanted, limit in cells
    ]


def water(shot: Snapshot, short: bool = False) -> str:
    """Since the last wetting, against the time to dry."""
    if shot.since_wetted_s is None:
        return "not wetted yet"
    if short:
        dry = "" if shot.time_to_dry_s is None else f"/{clock(shot.time_to_dry_s)}"
        return f"wetted {clock_up(shot.since_wetted_s)}{dry}"
    dry = "" if shot.time_to_dry_s is None else f", dry after {clock(shot.time_to_dry_s)}"
    return f"wetted {clock_up(shot.since_wetted_s)} ago{dry}"


def dry_soon(shot: Snapshot) -> bool:
    """Whether three quarters of the time to dry have gone since the last wetting."""
    if shot.since_wetted_s is None or shot.time_to_dry_s is None:
        return False
    return shot.since_wetted_s >= 0.75 * shot.time_to_dry_s


def ahead(shot: Snapshot, short: bool = False) -> str:
    """What comes next, and when."""
    if shot.next_in_s is None:
        return f"next: {shot.next_what}"
    return f"next{'' if short else ' in'} {clock(shot.next_in_s)}: {shot.next_what}"


def turns(shot: Snapshot, short: bool = False) -> str:
    """Useful turns of all turns."""
    if short:
        return f"useful {shot.useful_turns:.0f} of {shot.table_turns:.0f}"
    return f"useful turns {shot.useful_turns:.0f} of {shot.table_turns:.0f}"


def turning(shot: Snapshot, stale: bool = False) -> tuple[str, str]:
    """Role and words for whether the table turns, by its sensor alone."""
    if stale or shot.link == "lost":
        return "danger", "■ TABLE: NO WORD"
    if shot.link == "not_connected":
        return "strong", "○ NO BOARD YET"
    if shot.table_rpm is None:
        return "strong", "○ TABLE: --"
    return ("normal", "● TABLE TURNS") if shot.turning else ("strong", "○ TABLE AT REST")


def big_time(shot: Snapshot) -> tuple[float, bool, str]:
    """The time to show large, whether it grows, and what it is."""
    if shot.press is not None:
        waited = shot.press.left_s <= 0.0
        return shot.press.waited_s if waited else shot.press.left_s, waited, "of the cold press"
    if shot.state is State.STANDING and shot.standing_s is not None:
        return shot.standing_s, True, "lap standing on the glass"
    if shot.state is State.WAITING and shot.call is not None and shot.call.due_in_s is not None:
        return shot.call.due_in_s, False, "until it stops unwetted"
    if shot.state is State.WET_DOWN and shot.call is not None and shot.call.due_in_s is not None:
        return shot.call.due_in_s, False, "to wet the work"
    if shot.state is State.ARMED and shot.next_in_s is not None:
        return shot.next_in_s, False, "armed, then it disarms"
    stopped = shot.state is State.STOPPING and shot.stop_reason is not None
    return shot.left_s, False, "left when it stopped" if stopped else "left of the segment"


def why(shot: Snapshot) -> str:
    """Why the table stops or stopped, where nobody planned it."""
    if shot.stop_reason is None or shot.state not in (
        State.STOPPING,
        State.STANDING,
        State.LOOK,
        State.CLOSED,
    ):
        return ""
    return words_for(shot.stop_reason).title


def setup(shot: Snapshot) -> str:
    """Mirror and mark."""
    mark = "" if shot.mark is None else f", mark {shot.mark}"
    return f"{shot.mirror}{mark}"


def load_words(load_n: float, system: str) -> str:
    """Load of lap and weights: as a force and as the mass that weighs it, in the units chosen."""
    mass = units.show(load_n / STANDARD_GRAVITY_M_S2, units.MASS, system)
    return mass if system == units.INCH else f"{units.show(load_n, units.FORCE, system)} ({mass})"


def offset_words(offset_m: float, system: str) -> str:
    """Post offset in the units chosen: to the millimetre, or to a hundredth of an inch."""
    return units.show(offset_m, units.LENGTH, system)


def outcome(shot: Snapshot) -> list[str]:
    """The last segment's record in a few lines."""
    record = shot.record
    if record is None:
        return []
    ratio = number(record.spin_ratio_mean, 2)
    held = "" if record.standing_s is None else f", stood {clock_up(record.standing_s)} on the glass"
    return [
        f"{record.outcome}: {clock_up(record.polishing_s)} of {clock(record.planned_s)} polished",
        f"{record.useful_turns:.0f} useful turns, spin ratio {ratio}",
        f"water before the stop: {record.wet_down.replace('_', ' ')}{held}",
    ]
