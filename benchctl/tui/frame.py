"""The whole screen: the bar of places above, the page, STOP and the keys below. Pure.

SIMULATED stands in the bar and STOP in the row above the last, on every page and at every size.
"""

from __future__ import annotations

from collections.abc import Sequence

from benchctl.segment.states import State
from benchctl.session.snapshot import Snapshot
from benchctl.tui import lines
from benchctl.tui.blocks import clock, clock_up
from benchctl.tui.paint import filled, state_look
from benchctl.tui.polish import headline
from benchctl.tui.rows import Row, block, ends, fit, in_role, row, width_of
from benchctl.tui.signs import do_sign, do_words
from benchctl.tui.view import View
from benchctl.units import printable

PLACES = (
    ("prepare", "Prepare"),
    ("polish", "Polish"),
    ("look", "Look"),
    ("plan", "Plan"),
    ("logbook", "Logbook"),
)
BAR_ROWS, FOOT_ROWS = 1, 2
STOP_SIGN = "■  SPACE = STOP  ■"
DONE = (State.LOOK, State.CLOSED)
"""No time runs in these states."""


def screen(view: View, place: str, page: Sequence[Row], keys: str, told: str = "") -> list[Row]:
    """All rows of the screen; `told` is a word of the program's own, shown beside STOP."""
    rows = [bar(view, place), *block(page, view.height), stop_row(view, told, place), row(f" {keys}")]
    return [fit(harmless(line), view.width) for line in rows]


def harmless(line: Row) -> Row:
    """The row without characters that could steer the terminal, wherever its text came from."""
    return tuple((printable(text, 1000), role) for text, role in line)


def bar(view: View, place: str) -> Row:
    """The places, the one shown marked, and what bench this is."""
    origin = lines.origin(view.shot, view.pace)
    where: Row = row((f" {origin} ", "band")) if origin else ()
    for gap in ("  ", " ", ""):
        names: list[tuple[str, str]] = []
        for number, (key, name) in enumerate(PLACES, 1):
            here = key == place
            names.append((f"[{number} {name}]" if here else f" {number} {name} ", "strong" if here else ""))
            names.append((gap, ""))
        if width_of(tuple(names)) + width_of(where) <= view.width:
            return ends(tuple(names), where, view.width)
    here_name = dict(PLACES)[place]
    return ends(row((f"[{here_name}] 1-5", "strong")), where, view.width)


def stop_row(view: View, told: str, place: str) -> Row:
    """STOP and its key; beside it what the program has to say, what happened last, or the mirror and mark."""
    trouble = link_trouble(view) or _refused(view.shot)
    said = row((f"{trouble} ", "abnormal") if trouble else "", (told, "strong"))
    if not trouble and not told:
        said = row(_last(view, place))
    left = row((f" {STOP_SIGN} ", "band"), "  ")
    return (*left, *fit(said, view.width - width_of(left)))


def _refused(shot: Snapshot) -> str:
    if not shot.record_kept:
        return "▲ RECORD NOT ON DISK YET"
    return f"▲ {shot.refusal}" if shot.refusal else ""


def _last(view: View, place: str) -> str:
    """What happened last, where the page itself does not tell it."""
    shot = view.shot
    if place == "polish" or not shot.lines:
        return lines.setup(shot)
    return f"last: {lines.happened(shot.lines[-1], view.units)}"


def link_trouble(view: View) -> str:
    """What is wrong with the way to the board, in a word."""
    if view.stale:
        return "■ THE BENCH LOOP IS SILENT"
    return {"lost": "■ LINK LOST", "not_connected": "○ NO BOARD YET"}.get(view.shot.link, "")


def brief(view: View) -> list[Row]:
    """Two rows for the places where the work is not watched: what is happening, how long, what to do; what
    comes next and when, and the water while the table turns."""
    shot = view.shot
    role, shape = ("danger", "■") if view.stale else state_look(shot)
    seconds, grows, _ = lines.big_time(shot)
    time = clock_up(seconds) if grows else clock(seconds)
    left = row(f" {shape} {headline(shot, view.stale)}  {'' if shot.state in DONE else time}")
    words = row(f"{do_words(shot)} ")
    if width_of(left) + width_of(words) >= view.width:
        words = row(f"{do_sign(shot)} ")
    whole = ends(left, words, view.width)
    water = row(f"{lines.water(view.slow)} " if shot.turning else "")
    ahead = ends(row(f"   {lines.ahead(shot)}"), water, view.width)
    ground = role if filled(role) and not view.blink else "band"
    return [fit(in_role(line, ground), view.width, ground) for line in (whole, ahead)]
