"""The place after the segment: look at the glass, from the centre to the edge. Pure.

What was seen last time is shown only once this look is kept, so that the eye scores and not the memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchctl import units
from benchctl.logbook.blemishes import new_since
from benchctl.segment.states import State
from benchctl.tui import lines
from benchctl.tui.banner import ARROW_COLUMNS, band, heights
from benchctl.tui.blocks import LETTER_ROWS, figures
from benchctl.tui.entry import SCORES, SHORT, ZONES, LookEntry
from benchctl.tui.rows import Row, beside, block, row, wrapped
from benchctl.tui.signs import do_sign
from benchctl.tui.view import View

CLEAN = "Rinse, wipe, dry; same light, same order"
KEYS = {
    "grey": "Enter alone: not looked at. Tab: no grey at all. E: that is all. P: put off.",
    "pits": "Enter alone: next zone. Tab: no pits at all. E: that is all. P: put off.",
    "kind": "A digit and Enter; Enter alone: nothing more was found. P: put off.",
    "keep": "Enter keeps it in the logbook, Backspace goes back, P puts the look off.",
}
_OTHERS = "Enter alone: not looked at. Tab: leave these out. E: that is all. P: put off."
FIGURES = 3
"""Figures that are shown large; what is longer stands in the sentence above as well."""
TABLE_COLUMNS, SHEET_ROWS = 49, 16
"""What the table beside the figures needs, and what the band leaves for help, table and blemishes."""
SHOWN = (("grey", "grey"), ("pits", "pits"), ("laser_spot", "laser"), ("steepest_angle_deg", "lamp"))
WIDE = 70


def open_for_look(state: State, due: str = "") -> bool:
    """Whether a look can be entered in this state; `due` says that one was put off."""
    return state in (State.LOOK, State.CLOSED) or (state is State.READY and bool(due))


def look(
    view: View, entry: LookEntry, said: str, *, due: str = "", before: Mapping[str, Any] | None = None
) -> list[Row]:
    """The whole page, `view.height` rows. `before` is the look before this one, shown once this is kept."""
    if entry.over or not open_for_look(view.shot.state, due):
        return block(_after(view, entry, said, before), view.height)
    sign = _sign(entry)
    rows = band(
        sign,
        _sentence(entry, due if view.shot.state is State.READY else ""),
        view.width,
        _band_rows(sign, view),
    )
    if entry.said:
        rows += [row((f" ▲ {line[0][0]} ", "abnormal")) for line in wrapped(entry.said, view.width - 5)]
    else:
        help_text = f"{entry.ask.what}: {entry.ask.help} {KEYS.get(entry.step.part, _OTHERS)}"
        rows += [(*row(" "), *line) for line in wrapped(help_text, view.width - 2)]
    return block([*rows, *_sheet(view, entry, view.height - len(rows))], view.height)


def _band_rows(sign: str, view: View) -> int:
    """The band as high as the page allows, so that the step can be read from where the glass is."""
    fitting = [h for h in heights(sign, view.width - ARROW_COLUMNS) if h + 1 + SHEET_ROWS <= view.height]
    return max(fitting, default=LETTER_ROWS) + 1


def _sign(entry: LookEntry) -> str:
    step = entry.step
    if step.part in SCORES:
        return f"{SHORT[step.place]}: {entry.ask.what.upper()}?"
    return {"keep": "KEEP: ENTER", "kind": "BLEMISH?"}.get(step.part, f"{entry.ask.what.upper()}?")


def _sentence(entry: LookEntry, due: str) -> str:
    if entry.begun:
        step = entry.step
        counted = f", field {step.field + 1}" if step.part == "pits" else ""
        typed = f"{entry.typed} {entry.ask.unit}".strip() if entry.typed else entry.ask.unit
        return f"{_where(entry)}{counted}: {typed}" if typed else f"{_where(entry)}{counted}"
    return f"{due.partition(':')[0]}. {CLEAN}" if due else CLEAN


def _where(entry: LookEntry) -> str:
    step = entry.step
    if step.part in SCORES:
        return ZONES[step.place]
    if step.part == "keep":
        return "all that was asked"
    number = f" {step.place + 1}" if step.part in ("kind", "angle", "radius", "length") else ""
    return f"blemish{number}" if number else entry.ask.what.lower()


def _sheet(view: View, entry: LookEntry, rows: int) -> list[Row]:
    """What is being typed, large, beside what has been entered."""
    table = [*_zone_rows(entry, rows), *_found_rows(entry, view.units)]
    if view.width < WIDE or entry.step.part == "keep":
        return block(table, rows)
    typed = entry.typed.replace(".", " ") or "--"
    tall, used = _figures_size(view.width, rows)
    shown = [row((f" {line}", "strong")) for line in figures(typed[:FIGURES], tall)]
    return block([(), *beside(shown, table, used, view.width)], rows)


def _figures_size(width: int, rows: int) -> tuple[int, int]:
    """Rows and columns of the figures: the largest that leave room for the table beside them."""
    fitting = [(tall, len(figures("8" * FIGURES, tall)[0]) + 4) for tall in range(5, min(rows, 22), 2)]
    return max(((tall, used) for tall, used in fitting if used + TABLE_COLUMNS <= width), default=(5, 31))


def _zone_rows(entry: LookEntry, rows: int) -> list[Row]:
    """The table of scores so far; where there is no room, the rows from the one that is asked on."""
    head = row((f"  {'':<15}" + _cells([name for _, name in SHOWN]), "quiet"))
    scored = entry.step.part in SCORES
    found = []
    for zone, name in enumerate(ZONES):
        here = scored and zone == entry.step.place
        cells = _cells([said(entry.zone(zone).get(field)) for field, _ in SHOWN])
        found.append(row((f"{'▶' if here else ' '} {name:<15}{cells}", "strong" if here else "")))
    if rows > len(found):
        return [head, *found]
    first = min(entry.step.place, len(found) - rows) if scored else 0
    return found[max(0, first) :]


def _cells(texts: Sequence[str]) -> str:
    return "".join(f" {text:<{12 if i == 1 else 6}}" for i, text in enumerate(texts)).rstrip()


def said(value: Any) -> str:
    """A score in a few characters; a dot where there is none."""
    if value is None:
        return "·"
    if isinstance(value, list | tuple):
        return " ".join("many" if isinstance(one, str) else f"{one:g}" for one in value)
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _found_rows(entry: LookEntry, system: str) -> list[Row]:
    """Temperatures and blemishes, one a row."""
    look = entry.look()
    air = [
        f"{name} {_warmth(look[field], system)}"
        for name, field in (("glass", "glass_temperature_c"), ("room", "room_temperature_c"))
        if field in look
    ]
    if "room_humidity" in look:
        air.append(f"{look['room_humidity']:.0%}")
    found = [row("  " + ", ".join(air))] if air else []
    for number, one in enumerate(look["blemishes"], 1):
        place = f"{one['angle_deg']:g} deg, {units.show(one['radius_m'], units.LENGTH, system)}"
        found.append(row(f"  {number} {one['kind']}, {place}"))
    return found


def _warmth(value_c: float, system: str) -> str:
    """A temperature as it was typed, or in the other units."""
    if system == units.METRIC:
        return f"{value_c:g} degC"
    return units.show(value_c, units.TEMPERATURE, system)


def _after(view: View, entry: LookEntry, told: str, before: Mapping[str, Any] | None) -> list[Row]:
    """After the look, or where none can be entered: what was done, and this look beside the one before."""
    shot = view.shot
    rows = [row((f" {told}", "strong"))] if told else []
    rows += [row(f" {line}") for line in lines.outcome(shot)]
    open_now = shot.state in (State.LOOK, State.CLOSED)
    words = shot.do_now if open_now or told else "A look at the glass comes after the lap is lifted."
    if entry.over and told:
        rows += [(), *_compared(entry, before, view.units)]
    return [*band(do_sign(shot), words, view.width), *rows]


def _compared(entry: LookEntry, before: Mapping[str, Any] | None, system: str) -> list[Row]:
    """This look zone by zone; the one before in brackets."""
    if not before:
        return _zone_rows(entry, len(ZONES) + 1)
    old = [*(before.get("zones") or ()), before.get("edge")]
    when = str(before.get("at", ""))[:16].replace("T", " ")
    rows = [row((f"   in brackets: the look of {when}", "quiet"))]
    for zone, name in enumerate(ZONES):
        was = old[zone] if zone < len(old) and isinstance(old[zone], Mapping) else {}
        cells = [
            f"{short} {said(entry.zone(zone).get(field))} ({said(was.get(field))})"
            for field, short in SHOWN
            if field in entry.zone(zone) or was.get(field) is not None
        ]
        rows.append(row(f"   {name:<15}  {'  '.join(cells)}".rstrip()))
    for one in new_since(entry.look()["blemishes"], before.get("blemishes")):
        place = f"{one.angle_deg:g} deg, {units.show(one.radius_m, units.LENGTH, system)}"
        rows.append(row((f"   ▲ new: {one.kind}, {place}", "abnormal")))
    return rows
