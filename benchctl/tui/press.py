"""A cold press under way: what is asked and the time, large; where the lap lies and what comes next. Pure.

The time is what is left until the shift or the end; while a person is waited for it grows.
"""

from __future__ import annotations

from benchctl import units
from benchctl.press.states import On, State
from benchctl.press.view import PressView
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui.banner import ARROW_COLUMNS, band, heights, large
from benchctl.tui.blocks import LETTER_ROWS, clock, clock_up, figures
from benchctl.tui.layout import TIME_HEIGHTS, Rows, time_width
from benchctl.tui.paint import call_look, filled
from benchctl.tui.rows import Row, beside, block, centred, fit, in_role, paragraphs, row
from benchctl.tui.view import View

KEYS: dict[str, tuple[On, str]] = {
    "s": (On.SHIFTED, "shifted and turned"),
    "w": (On.WETTED, "wetted"),
    "l": (On.LIFTED, "lap is off"),
    "e": (On.END, "ended early, lap is off"),
}
ROOM_KEY = "h"
"""Opens the page on which the room's temperature is typed; its words are `TYPED["room"]`."""
_SIGNS = {
    State.FIRST: "KEEP IT WET",
    State.SHIFT: "SHIFT: KEY S",
    State.SECOND: "KEEP IT WET",
    State.OFF: "LIFT, THEN KEY L",
    State.CLOSED: "DONE",
}
FACTS_WIDTH = 24
"""Columns that the facts need beside the time."""
TURNS_NOT = "The table does not turn during a press."


def press_key(letter: str, shot: Snapshot) -> Done | None:
    """The act of a key while a press is under way; None where it means nothing now."""
    if shot.press is None or letter not in KEYS:
        return None
    event = KEYS[letter][0]
    return Done(Act.PRESS, event.value) if event in _offered(shot.press) else None


def _offered(press: PressView) -> set[On]:
    """What keys do now: all that is allowed, but a shift only once it is called; a stray key makes none."""
    return set(press.allowed) - (set() if press.state is State.SHIFT else {On.SHIFTED})


def press_page(view: View) -> list[Row]:
    """The whole page, `view.height` rows; empty where no press is under way."""
    press = view.shot.press
    if press is None:
        return block([], view.height)
    role = "" if view.shot.call is None or view.shot.call.silenced else call_look(view.shot)[0]
    ground = role if filled(role) and not view.blink else ""
    sign, sentence = _what_to_do(view, press)
    rows = _rows(view, sign)
    top = [*_word(view, rows.word), *_time(view, press, rows.time)]
    painted = [fit(in_role(line, ground) if ground else line, view.width, ground) for line in top]
    return block([*painted, *band(sign, sentence, view.width, rows.do), _keys(view, press)], view.height)


def _rows(view: View, sign: str) -> Rows:
    """The rows of word, time and act; all grow in turn, the time first."""
    height = view.height - 1
    rows = Rows().grown(height, do=2).grown(height, do=LETTER_ROWS + 1).grown(height, word=LETTER_ROWS)
    times = [tall for tall in TIME_HEIGHTS if time_width(tall) + FACTS_WIDTH <= view.width]
    for tall in times:
        rows = rows.grown(height, time=min(tall, 9))
    for tall in heights(sign, view.width - ARROW_COLUMNS):
        rows = rows.grown(height, do=tall + 1)
    for tall in heights(_headline(view), view.width - 2):
        rows = rows.grown(height, word=tall)
    for tall in times:
        rows = rows.grown(height, time=tall)
    return rows


def _what_to_do(view: View, press: PressView) -> tuple[str, str]:
    call = view.shot.call
    if press.state is State.SHIFT:
        by = units.show(press.shift_by_m, units.LENGTH, view.units)
        return _SIGNS[press.state], f"Slide it by {by}, turn it a quarter; then answer"
    waits = press.state is State.OFF or call is None
    return _SIGNS[press.state] if waits else "WET, THEN KEY W", TURNS_NOT if call is None else call.do


def _headline(view: View) -> str:
    return "COLD PRESS" if view.shot.call is None else view.shot.call.title


def _word(view: View, rows: int) -> list[Row]:
    shape = large(_headline(view), view.width - 2, rows=rows) if rows >= LETTER_ROWS else None
    if shape is None:
        return block([centred(_headline(view), view.width, "strong")], rows)
    return block([row((f" {line}", "strong")) for line in shape], rows)


def _time(view: View, press: PressView, rows: int) -> list[Row]:
    """The time in figures, and the facts beside it."""
    waited = press.state in (State.SHIFT, State.OFF)
    text = "--:--" if view.stale else clock_up(press.waited_s) if waited else clock(press.left_s)
    shown = [row((f" {line}", "strong")) for line in figures(text, rows)]
    used = time_width(rows)
    if view.width < used + 12:
        return shown
    return beside(shown, paragraphs(_facts(view, press, waited), view.width - used, rows), used, view.width)


def _facts(view: View, press: PressView, waited: bool) -> list[tuple[str, str]]:
    """What the time is, where the lap lies, water, room; most needed first."""
    place = units.show(press.place_m, units.LENGTH, view.units)
    load = units.show(press.load_kg, units.MASS, view.units)
    facts = [
        ("waited for you" if waited else f"until: {press.next_what}", "strong"),
        *([(f"▲ {press.drift}", "abnormal")] if press.drift else []),
        (f"{load} of weights, lap {place} from the mirror's centre", ""),
    ]
    if press.shift_by_m is not None and press.state in (State.FIRST, State.SHIFT):
        by = units.show(press.shift_by_m, units.LENGTH, view.units)
        facts.append((f"then slide it by {by} and turn it a quarter", ""))
    if press.state is not State.OFF:
        due = press.rewet_in_s
        facts.append((f"water at the edge in {clock(due)}" if due > 0 else "water at the edge is due", ""))
    room = units.show(press.temperature_c, units.TEMPERATURE, view.units)
    return [*facts, (f"press of {clock(press.length_s)}, room {room}", "")]


def _keys(view: View, press: PressView) -> Row:
    offered = _offered(press)
    known = "   ".join(f"{key.upper()} {words}" for key, (event, words) in KEYS.items() if event in offered)
    room = f"   {ROOM_KEY.upper()} room temperature"
    shown = f" {known}{room if len(known) + len(room) < view.width else ''}"
    return fit(row((shown, "strong")), view.width)
