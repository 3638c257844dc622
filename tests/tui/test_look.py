"""A look at the glass, typed in: the order, the keys, what is refused, what is shown when."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterable
from typing import Any

import pytest

from benchctl.logbook.interrupted import WHAT_TO_DO
from benchctl.models.inspection import FIELDS, KINDS, PITS_COUNTABLE, Inspection
from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.tui import entry as typing_in
from benchctl.tui.bench_app import BenchApp
from benchctl.tui.entry import LookEntry, Step
from benchctl.tui.look import look
from benchctl.tui.places import Places
from benchctl.tui.rows import plain
from benchctl.tui.view import View
from tests.tui.seen import stands_in_blocks, text_of
from tests.tui.shots import Player, record, shot

_WHOLE = (
    "9 . 8 . 7 . 7.5 . . 9 . "  # grey, zone 5 left out
    "m 38 . 41 . . 12 . 9 . 14 . 8 . . m m "  # pits
    "1 . 1 . 2 . 2 . 1 . 0 . 20 . 20 . 30 . 30 . 20 . 10 . "  # laser, lamp
    "20.5 . 20 . 48 . "  # temperatures, humidity
    "1 . 130 . 95 . 12 . 5 . 3 . 200 . . . "  # two blemishes
)
WHOLE = _WHOLE.split()
"""A whole look with one hand; a dot is Enter."""


def typed(words: Iterable[str], entry: LookEntry | None = None) -> LookEntry:
    """An entry after these keys: digits one by one, a dot for Enter, other names as they are."""
    entry = entry or LookEntry()
    for word in words:
        if word == ".":
            entry.key("enter", "")
        elif len(word) > 1 and word[0].isalpha():
            entry.key(word, "")
        else:
            for character in word:
                entry.key(character, character)
    return entry


def test_a_whole_look_is_typed_in_one_order() -> None:
    """Grey, pits, laser, lamp, each from zone 1 to the rim; temperatures; blemishes; then it is kept."""
    entry = typed([*WHOLE, "."])
    assert entry.over
    look = Inspection.model_validate(entry.look(), context={"si": True})
    zones = [zone for _, zone in look.looks()]
    assert [zone.grey for zone in zones] == [9.0, 8.0, 7.0, 7.5, None, 9.0]
    many = ("too many",)
    assert [zone.pits for zone in zones] == [many, (38, 41), (12, 9, 14), (8,), many, many]
    assert [zone.laser_spot for zone in zones] == [1, 1, 2, 2, 1, 0]
    assert [zone.steepest_angle_deg for zone in zones] == [20, 20, 30, 30, 20, 10]
    assert (look.glass_temperature_c, look.room_temperature_c, look.room_humidity) == (20.5, 20.0, 0.48)
    sleek, compound = look.blemishes
    assert (sleek.kind, sleek.angle_deg, sleek.radius_m, sleek.length_m) == ("sleek", 130.0, 0.095, 0.012)
    assert (compound.kind, compound.radius_m, compound.length_m) == ("dried compound", 0.2, None)


def test_the_screen_asks_what_the_model_takes() -> None:
    """Kinds of blemish, fields of the loupe and the most that is counted are the same in both places."""
    assert typing_in.KINDS == KINDS
    assert typing_in.FIELDS == FIELDS
    assert typing_in.ASKS["pits"].high == PITS_COUNTABLE


WAY_TO = {part: ["9", "."][: 2 * (at > 0)] + ["tab"] * at for at, part in enumerate(typing_in.SCORES)}
WAY_TO |= {part: ["9", ".", *["tab"] * 4, *["."] * at] for at, part in enumerate(typing_in.ROOM)}


@pytest.mark.parametrize("part", list(WAY_TO))
def test_both_ends_of_each_range_are_taken_by_the_model(part: str) -> None:
    """Whatever the screen takes for a score or a temperature, the logbook's model takes as well."""
    ask = typing_in.ASKS[part]
    for value in (ask.low, ask.high):
        entry = typed(WAY_TO[part])
        assert entry.step.part == part
        typed([f"{value:g}", ".", "e", "."], entry)
        assert entry.over, entry.said
        Inspection.model_validate(entry.look(), context={"si": True})


@pytest.mark.parametrize(
    ("before", "wrong", "said"),
    [
        ([], "11", "Grey is 0 to 10, not 11"),
        ([], "1.2.3", "'1.2.3' is not a number"),
        (["tab"], "60", "M means too many"),
        (["tab"], "7.5", "'7.5' is not a whole number"),
        (["tab", "tab"], "4", "Laser is 0 to 3"),
        (["tab", "tab", "tab"], "95", "Lamp is 0.5 to 90 deg, not 95"),
        (["tab", "tab", "tab", "tab", ".", "."], "150", "Humidity is 0 to 100 %"),
        (["tab", "tab", "tab", "tab", "tab"], "9", "Blemish is 1 to 7"),
    ],
)
def test_a_wrong_number_is_asked_again(before: list[str], wrong: str, said: str) -> None:
    """It says the limit, takes nothing, and the step stays."""
    entry = typed(before)
    step, count = entry.step, len(entry.taken)
    typed([wrong, "."], entry)
    assert said in entry.said
    assert (entry.step, len(entry.taken), entry.typed) == (step, count, "")


def test_backspace_goes_back_step_by_step() -> None:
    """It takes back what is being typed, then the step before, across fields, zones and instruments."""
    entry = typed(["9", ".", "8", "backspace", "backspace"])
    assert entry.step == Step("grey", 0)
    entry = typed(["9", ".", "tab", "3", ".", "backspace"])
    assert entry.step == Step("pits", 0, 0)
    entry = typed(["9", ".", "tab", "backspace"])
    assert entry.step == Step("grey", 1)
    assert entry.value("grey", 0) == 9.0
    typed(WHOLE, entry := LookEntry())
    while entry.begun:
        entry.key("backspace", "")
    assert entry.step == Step("grey", 0)
    assert not entry.look()["blemishes"]


def test_a_blemish_without_a_place_is_not_taken() -> None:
    """Angle and radius are wanted; going back leaves the blemish out."""
    entry = typed(["9", ".", "e", "backspace", *["tab"] * 5, "1", ".", "."])
    assert entry.step == Step("angle")
    assert "Angle is wanted" in entry.said
    typed(["90", ".", "backspace", "backspace", ".", "."], entry)
    assert entry.over
    assert entry.look()["blemishes"] == []


def test_nothing_looked_at_is_not_kept() -> None:
    """An empty sheet is refused with what to do instead."""
    entry = typed(["e", "."])
    assert not entry.over
    assert "P puts the look off" in entry.said


def test_lengths_are_typed_in_the_unit_that_is_shown() -> None:
    """With inches, a radius of 3.75 is 95.25 mm, and the limit is said in inches."""
    entry = typed(["9", ".", *["tab"] * 5, "1", ".", "90", "."], LookEntry(inches=True))
    assert entry.ask.unit == "in"
    typed(["99", "."], entry)
    assert "0 to 59.1 in" in entry.said
    typed(["3.75", ".", "0.5", "."], entry)
    assert entry.look()["blemishes"] == [
        {"kind": "sleek", "angle_deg": 90.0, "radius_m": 0.09525, "length_m": 0.0127}
    ]


def test_temperatures_are_typed_in_the_unit_that_is_shown() -> None:
    """With inches, 68 is 20 degC, and the limit is said in degrees Fahrenheit."""
    entry = typed(["9", ".", *["tab"] * 4], LookEntry(inches=True))
    assert entry.ask.unit == "degF"
    typed(["200", "."], entry)
    assert "14 to 176 degF" in entry.said
    typed(["68", ".", "50", "."], entry)
    look = entry.look()
    assert (look["glass_temperature_c"], look["room_temperature_c"]) == (20.0, 10.0)


def test_what_was_entered_is_shown_in_the_units_that_the_person_chose() -> None:
    """The place of what was found, and the temperatures."""
    typed_in_mm = typed([*WHOLE[:-1]])
    moment = shot(State.LOOK)
    for system, place, warm in (
        ("metric", "130 deg, 95 mm", "20.5 degC"),
        ("inch", "130 deg, 3.74 in", "68.9 °F"),
    ):
        view = View(moment, moment, 80, 40, units=system)
        text = " ".join(map(plain, look(view, typed_in_mm, "")))
        assert place in text
        assert warm in text


# On the screen

BEFORE = {
    "at": "2026-03-01T14:02:03+01:00",
    "zones": [{"grey": 9.5}, {"grey": 8.5, "pits": ["too many"]}, {"grey": 7.7}, {"grey": 7.0}, {}],
    "edge": {"grey": 10.0},
    "blemishes": [{"kind": "sleek", "angle_deg": 131.0, "radius_m": 0.096}],
}


class Kept:
    """Takes looks as a logbook would."""

    def __init__(self, answer: str = "Kept in the logbook.", due: str = "") -> None:
        self.looks: list[dict[str, Any]] = []
        self._answer, self._due = answer, due

    def places(self) -> Places:
        return Places(save_look=self._save, last_look=lambda: BEFORE, look_due=lambda: self._due)

    def _save(self, look: dict[str, Any]) -> str:
        self.looks.append(look)
        return self._answer


def played(
    state: State, keys: Iterable[str], kept: Kept, size: tuple[int, int] = (80, 24)
) -> tuple[Player, list[list[str]]]:
    """The screen in `state` after each of `keys`; 'enter' and the like by their names."""

    async def play() -> tuple[Player, list[list[str]]]:
        player = Player([shot(state, record=record() if state is State.LOOK else None)])
        app = BenchApp(player, kept.places())
        async with app.run_test(size=size) as pilot:
            await pilot.pause(0.15)
            seen = [text_of(app)]
            for key in keys:
                await pilot.press(key)
                seen.append(text_of(app))
        return player, seen

    return asyncio.run(play())


def as_keys(words: Iterable[str]) -> list[str]:
    """The words of a typed look as names of keys."""
    named = {".": "enter"}
    found: list[str] = []
    for word in words:
        if word in named or (len(word) > 1 and word[0].isalpha()):
            found.append(named.get(word, word))
        else:
            found += ["full_stop" if character == "." else character for character in word]
    return found


def test_the_last_look_is_hidden_until_this_one_is_kept() -> None:
    """No score of the look before stands on the screen before Enter keeps this one; then all do."""
    kept = Kept()
    player, seen = played(State.LOOK, as_keys([*WHOLE, "."]), kept)
    assert not any("7.7" in line for rows in seen[:-1] for line in rows)
    assert any("grey 7 (7.7)" in line for line in seen[-1])
    assert any("in brackets: the look of 2026-03-01 14:02" in line for line in seen[-1])
    text = "\n".join(seen[-1])
    assert "▲ new: dried compound, 3 deg, 200 mm" in text
    assert "new: sleek" not in text
    assert player.acts == [Act.LOOKED]
    assert len(kept.looks) == 1


@pytest.mark.parametrize("size", [(80, 24), (60, 16), (120, 36)])
def test_each_step_says_what_it_wants_and_what_the_keys_do(size: tuple[int, int]) -> None:
    """At every size the zone stands in block letters, the scale and the keys in words, STOP below."""
    _, seen = played(State.LOOK, as_keys([*WHOLE]), Kept(), size)
    assert stands_in_blocks("ZONE 1: GREY?", seen[0])
    for rows in seen:
        text = " ".join(line.strip() for line in rows)
        assert "SPACE = STOP" in text
        assert "Enter" in text
        assert "P puts the look off" in text or "P: put off" in text
        assert all(len(line) == size[0] for line in rows)


def test_a_look_is_put_off_and_noted() -> None:
    """P notes that it was put off and makes the next segment ready."""
    player, _ = played(State.LOOK, ["9", "enter", "p"], Kept())
    assert player.acts == [Act.NOTE, Act.NEXT]


def test_a_look_that_was_put_off_is_asked_for_again() -> None:
    """The preparation says so; key 3 opens the sheet, and it is kept without closing any segment."""
    due = "Glass not looked at since segment 12: key 3 asks again"
    kept = Kept(due=due)
    player, seen = played(State.READY, ["3", *as_keys(["9", ".", "e", "."])], kept)
    assert any("not looked at since segment 12" in " ".join(rows) for rows in [seen[0]])
    assert stands_in_blocks("ZONE 1: GREY?", seen[1])
    assert "Glass not looked at since segment 12. Rinse, wipe, dry" in " ".join(seen[1])
    assert "key 3 asks again" not in " ".join(seen[1])
    assert kept.looks[0]["zones"][0] == {"grey": 9.0}
    assert player.acts == []
    _, seen = played(State.READY, ["3"], Kept())
    assert not stands_in_blocks("ZONE 1: GREY?", seen[1])


def test_a_look_after_a_segment_speaks_of_no_earlier_one() -> None:
    """What was put off before is made good by the look that is now asked for."""
    _, seen = played(State.LOOK, [], Kept(due="Glass not looked at since segment 12: key 3 asks again"))
    assert "Rinse, wipe, dry; same light, same order" in " ".join(seen[0])
    assert "segment 12" not in " ".join(seen[0])


def test_nothing_typed_is_lost_when_the_look_is_refused() -> None:
    """The refusal stands there, the numbers too; the segment is not called looked at."""
    kept = Kept("Not kept: a sleek 400 mm from the centre lies beside the mirror")
    player, seen = played(State.LOOK, as_keys([*WHOLE, "."]), kept)
    assert player.acts == []
    text = "\n".join(seen[-1])
    assert "400 mm from the centre" in text
    assert "38 41" in text


def test_stop_goes_out_in_the_middle_of_a_look() -> None:
    """Space is STOP here as everywhere."""
    player, _ = played(State.LOOK, ["9", "space"], Kept())
    assert player.acts == [Act.STOP]


def test_what_was_cut_off_is_told_and_asked_about_first() -> None:
    """At the next start the glass comes first: what ran, what to do, and a question before all others."""
    told = "A segment at mark 7 had run 12.3 min when the program ended. " + WHAT_TO_DO
    for size in ((80, 24), (60, 16)):
        player = Player([shot(State.READY, recovered=told)])
        seen = asyncio.run(_first_seen(player, size))
        text = " ".join(line.strip() for line in seen)
        assert stands_in_blocks("WET THE EDGE NOW" if size[0] > 60 else "WET EDGE", seen), text
        assert "▶ □ Lap wetted, slid off the glass, glass looked at" in text
        assert "take it off, look at the glass; then Y" in text
        if size[0] > 60:
            words = " ".join(re.sub("[█ ]+", " ", line).strip() for line in seen)
            assert told in " ".join(words.split())


async def _first_seen(player: Player, size: tuple[int, int]) -> list[str]:
    app = BenchApp(player, Places())
    async with app.run_test(size=size) as pilot:
        await pilot.pause(0.15)
        return text_of(app)
