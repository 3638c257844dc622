"""The page of a cold press: what is asked, the time and the place at every size; keys that do one act."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchctl.press.states import On, State
from benchctl.press.view import PressView
from benchctl.segment.states import State as Segment
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Call, Snapshot
from benchctl.tui.press import press_key, press_page
from benchctl.tui.rows import plain, width_of
from benchctl.tui.view import View
from benchctl.units import INCH, METRIC
from tests.tui.seen import stands_in_blocks
from tests.tui.shots import shot

SIZES = [(80, 21), (60, 13), (40, 7), (120, 37), (200, 57)]
ALLOWED = {
    State.FIRST: {On.SHIFTED, On.WETTED, On.END},
    State.SHIFT: {On.SHIFTED, On.WETTED, On.END},
    State.SECOND: {On.WETTED, On.END},
    State.OFF: {On.LIFTED, On.WETTED},
}
CALLS = {
    State.SHIFT: Call("caution", "SHIFT THE LAP", "Slide it 62 mm, turn it a quarter", None),
    State.OFF: Call("end", "PRESS IS DONE", "Take the lap off now, then answer: lifted", None),
}
WATER = Call("caution", "WETTING IS DUE", "Wet the lap's edge, then answer: wetted", None)


def pressed(state: State, call: Call | None = None) -> Snapshot:
    """A press in this state, 7:42 before or after what matters."""
    waits = state in CALLS
    view = PressView(
        state=state,
        left_s=0.0 if waits else 462.0,
        waited_s=462.0 if waits else 0.0,
        next_what="shift and turn the lap",
        place_m=0.128,
        shift_by_m=0.062,
        load_kg=9.0,
        length_s=1320.0,
        rewet_in_s=-5.0 if call is WATER else 131.0,
        over_s=0.0,
        temperature_c=20.0,
        allowed=frozenset(ALLOWED[state]),
    )
    return shot(Segment.READY, press=view, call=call or CALLS.get(state))


def view_of(snapshot: Snapshot, width: int, height: int, units: str = METRIC) -> View:
    return View(snapshot, snapshot, width, height, units=units)


def test_a_room_that_has_drifted_is_shown() -> None:
    """Beside the time, with its sign."""
    snapshot = pressed(State.FIRST)
    assert snapshot.press is not None
    warm = replace(snapshot, press=snapshot.press._replace(drift="The room is 4.0 K warmer"))
    for size in SIZES[:2]:
        assert "▲ The room is 4.0 K" in " ".join(map(plain, press_page(view_of(warm, *size))))
    assert "▲" not in " ".join(map(plain, press_page(view_of(snapshot, 80, 21))))


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("state", list(ALLOWED))
def test_the_page_fills_its_size_and_no_more(state: State, size: tuple[int, int]) -> None:
    """Whatever the size, just its rows, none too wide."""
    rows = press_page(view_of(pressed(state), *size))
    assert len(rows) == size[1]
    assert all(width_of(line) <= size[0] for line in rows)


@pytest.mark.parametrize("size", SIZES[:2], ids=str)
@pytest.mark.parametrize(
    ("state", "call", "sign"),
    [
        (State.FIRST, None, "KEEP IT WET"),
        (State.FIRST, WATER, {80: "WET, THEN KEY W", 60: "WET: KEY W"}),
        (State.SHIFT, None, "SHIFT: KEY S"),
        (State.SECOND, None, "KEEP IT WET"),
        (State.OFF, None, {80: "LIFT, THEN KEY L", 60: "LIFT: KEY L"}),
    ],
)
def test_what_to_do_stands_in_blocks(
    state: State, call: Call | None, sign: str | dict[int, str], size: tuple[int, int]
) -> None:
    """The act with its key, to be read across the workshop; the time in figures; no word cut off."""
    texts = [plain(line) for line in press_page(view_of(pressed(state, call), *size))]
    assert stands_in_blocks(sign if isinstance(sign, str) else sign[size[0]], texts)
    assert all("…" not in text for text in texts)


def test_the_place_and_the_shift_are_in_the_units_of_the_person() -> None:
    """128 mm or 5.04 in from the centre, to be slid by 62 mm or 2.44 in."""
    for units, words in ((METRIC, ("128 mm", "62 mm", "9.0 kg")), (INCH, ("5.04 in", "2.44 in", "19.8 lb"))):
        text = "\n".join(plain(line) for line in press_page(view_of(pressed(State.SHIFT), 100, 21, units)))
        assert all(word in text for word in words)


@pytest.mark.parametrize("state", list(ALLOWED))
@pytest.mark.parametrize("letter", ["s", "w", "l", "e", "a", "r", ""])
def test_a_key_does_what_is_allowed_and_nothing_else(state: State, letter: str) -> None:
    """S W L E; a shift only once it is called, so that a stray key makes none."""
    words = {"s": On.SHIFTED, "w": On.WETTED, "l": On.LIFTED, "e": On.END}
    event = words.get(letter)
    wanted = event in ALLOWED[state] and not (event is On.SHIFTED and state is not State.SHIFT)
    done = press_key(letter, pressed(state))
    assert done == (Done(Act.PRESS, event.value) if wanted and event else None)


def test_keys_mean_nothing_without_a_press() -> None:
    """On any other page they are left to the others."""
    assert press_key("w", shot(Segment.READY)) is None
    assert all(plain(line) == "" for line in press_page(view_of(shot(Segment.READY), 80, 21)))
