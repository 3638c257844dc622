"""The place after the segment: look at the glass, zone by zone, from the centre to the edge. Pure."""

from __future__ import annotations

from benchctl.segment.states import State
from benchctl.tui import lines
from benchctl.tui.banner import band
from benchctl.tui.blocks import figures
from benchctl.tui.entry import SHORT, ZONES, LookEntry
from benchctl.tui.rows import Row, beside, block, row, wrapped
from benchctl.tui.signs import do_sign
from benchctl.tui.view import View

HELP = "Rinse, wipe, dry; same lamp; centre to edge"
GREY = "Grey: 0 none, 10 as fine ground. Digits, then Enter; Enter alone: not looked at; P: put off."
PITS = "Pits in one field of the loupe: digits, then Enter; M: too many; Enter alone: not counted."


def open_for_look(state: State) -> bool:
    """Whether a look can be entered in this state."""
    return state in (State.LOOK, State.CLOSED)


def look(view: View, entry: LookEntry, said: str) -> list[Row]:
    """The whole page, `view.height` rows."""
    if not open_for_look(view.shot.state) or entry.over:
        return block(_nothing_to_enter(view, entry, said), view.height)
    step = entry.step
    rows = band(f"{SHORT[step.zone]}: {step.what.upper()}?", HELP, view.width)
    if entry.said:
        rows.append(row((f" ▲ {entry.said} ", "abnormal")))
    else:
        text = wrapped(GREY if step.what == "grey" else PITS, view.width - 2)
        rows += [(*row(" "), *line) for line in text]
    return block([*rows, *_sheet(view, entry, view.height - len(rows))], view.height)


def _sheet(view: View, entry: LookEntry, rows: int) -> list[Row]:
    """What is being typed, large, beside what has been entered."""
    typed = entry.typed.replace(".", " ") or "--"
    shown = [row((f" {line}", "strong")) for line in figures(typed[:3], 5)]
    used = len(shown[0][0][0]) + 3
    zones = []
    for zone, name in enumerate(ZONES):
        sign = "▶" if zone == entry.step.zone else " "
        said = f"{sign} {name:<22}{_said(entry.grey(zone), 'not looked at'):>14}"
        if any(step.what == "pits" for step in entry.steps):
            said += f"{_said(entry.pits(zone), 'not counted'):>14}"
        zones.append(row((said, "strong" if zone == entry.step.zone else "")))
    return block([(), *beside(shown, zones, used, view.width)], rows)


def _said(value: float | str | None, nothing: str) -> str:
    if value is None:
        return nothing
    return value if isinstance(value, str) else f"{value:g}"


def _nothing_to_enter(view: View, entry: LookEntry, said: str) -> list[Row]:
    shot = view.shot
    known = [row(f" {line}") for line in lines.outcome(shot)]
    if said:
        known = [row((f" {said}", "strong")), *known]
    words = shot.do_now if open_for_look(shot.state) else "A look at the glass comes after the lap is lifted."
    return [*band(do_sign(shot), words, view.width), (), *known]
