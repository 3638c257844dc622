"""What each key does: STOP first and everywhere, one key one act, and a start that no stray key can make."""

from __future__ import annotations

import string
from typing import Any

import pytest

from benchctl.errors import BadInput
from benchctl.models.preferences import Preferences
from benchctl.models.press_record import PressRecord
from benchctl.segment.states import State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Call
from benchctl.tui.face import Face
from benchctl.tui.places import Places
from tests.tui.shots import PIECES, Player, acts, pressing, shot


def face_on(state: State, places: Places | None = None, **changes: Any) -> tuple[Face, Player]:
    """A face that has looked at a bench in `state` for a while."""
    player = Player([shot(state, **changes)])
    face = Face(player, places or Places())
    face.see(player.snapshot(), 0.0)
    face.see(player.snapshot(), 10.0)
    return face, player


def press(face: Face, keys: str | list[str], at_s: float = 20.0, gap_s: float = 1.0) -> None:
    """Press keys one after the other, `gap_s` apart."""
    for number, key in enumerate(keys):
        character = key if len(key) == 1 else {"space": " "}.get(key)
        face.key(key, character, at_s + number * gap_s)


@pytest.mark.parametrize("key", ["space", "escape"])
@pytest.mark.parametrize("before", ["", "?", "t", "j", "1", "2", "3", "4", "5"])
@pytest.mark.parametrize("state", State)
def test_stop_goes_out_from_everywhere(state: State, before: str, key: str) -> None:
    """Space and Escape are STOP in every state, on every place and page, at the first press."""
    face, player = face_on(state)
    press(face, before)
    player.done.clear()
    press(face, [key], 30.0)
    if face.page == "note" and key == "space":
        assert state in (State.READY, State.STANDING, State.LOOK, State.CLOSED)
    else:
        assert player.acts == [Act.STOP]
        assert face.page is None


def test_stop_in_a_note_while_the_table_turns() -> None:
    """While the table turns Space is STOP even in the middle of a note; Tab makes the gap."""
    face, player = face_on(State.POLISH)
    press(face, ["t", "d", "u", "l", "l", "tab", "e", "d", "g", "e", "enter"])
    assert player.done == [Done(Act.NOTE, "dull edge")]
    press(face, ["t", "d", "space"], 60.0)
    assert player.acts[-1] is Act.STOP


def test_a_space_in_a_note_at_rest() -> None:
    """With the table at rest a note may have spaces."""
    face, player = face_on(State.CLOSED)
    press(face, ["t", "a", "space", "b", "enter"])
    assert player.done == [Done(Act.NOTE, "a b")]


KEYS = {
    "a": Act.ARM, "s": Act.SPEED_UP, "w": Act.WETTED, "-": Act.SLOWER, "+": Act.FASTER, "=": Act.FASTER,
    "h": Act.HOLD_SLOW, "g": Act.GO_ON, "l": Act.LIFTED, "n": Act.NEXT,
}  # fmt: skip


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("state", State)
def test_a_key_does_its_act_where_that_is_allowed(state: State, key: str) -> None:
    """Each key is one act; where the act means nothing now, nothing goes out."""
    places = Places()
    face, player = face_on(state, places)
    face.place = "polish"
    press(face, key)
    assert player.acts == ([KEYS[key]] if KEYS[key] in acts(state) else [])


def test_capitals_count_as_small_letters() -> None:
    """A caps lock does not take the keys away."""
    face, player = face_on(State.POLISH)
    press(face, "W")
    assert player.acts == [Act.WETTED]


def armed_face(at_s: float = 100.0) -> tuple[Face, Player]:
    """A face that sees the board armed for the first time at `at_s`."""
    face, player = face_on(State.READY)
    player.show(shot(State.ARMED))
    face.see(player.snapshot(), at_s)
    return face, player


def test_run_waits_half_a_second_after_armed() -> None:
    """RUN sooner than half a second after the board said armed is thrown away."""
    face, player = armed_face()
    press(face, "r", 100.45)
    assert player.acts == []
    press(face, "r", 101.0)
    assert player.acts == [Act.RUN]


def test_a_key_held_down_never_starts() -> None:
    """A key that repeats (thirty times a second) is not a second act; let go and pressed again it is."""
    face, player = armed_face()
    for repeat in range(150):
        face.key("r", "r", 100.1 + repeat / 30.0)
    assert player.acts == []
    press(face, "r", 106.0)
    assert player.acts == [Act.RUN]


def test_keys_typed_ahead_never_start() -> None:
    """Arm and run in one go, as from a paste or a stuck terminal, arm at most."""
    face, player = face_on(State.READY)
    press(face, "ar", 20.0, 0.001)
    player.show(shot(State.ARMED))
    face.see(player.snapshot(), 20.2)
    press(face, "arar", 21.5, 0.001)
    assert Act.RUN not in player.acts


def test_no_single_key_starts_from_rest() -> None:
    """Whatever single key is pressed at a resting table, RUN does not go out."""
    for key in [*string.printable, "enter", "tab", "up", "f1", "pageup"]:
        face, player = face_on(State.READY)
        press(face, [key, key, key])
        assert Act.RUN not in player.acts, key


def test_arm_and_run_are_different_keys() -> None:
    """The key that arms does not run, however long one waits."""
    face, player = armed_face()
    press(face, "aaaa", 110.0)
    assert Act.RUN not in player.acts


@pytest.mark.parametrize("state", [State.STARTING, State.RAMP])
def test_a_slap_on_the_keys_stops_a_speeding_table(state: State) -> None:
    """While the table speeds up, a letter that means nothing is taken for somebody who wants STOP."""
    face, player = face_on(state)
    face.place = "polish"
    press(face, "b")
    assert player.acts == [Act.STOP]


def test_a_meaningless_key_does_nothing_while_polishing() -> None:
    """At its working speed the table is not stopped by a stray letter."""
    face, player = face_on(State.POLISH)
    press(face, "b")
    assert player.acts == []


def test_places_by_number_and_arrow() -> None:
    """The five places, in the order of the work."""
    face, _ = face_on(State.POLISH)
    seen = []
    for key in "12345":
        press(face, key)
        seen.append(face.place)
    assert seen == ["prepare", "polish", "look", "plan", "logbook"]
    press(face, ["right", "left", "left"])
    assert face.place == "plan"


def test_the_screen_goes_with_the_work() -> None:
    """Armed leads to polish, a lifted lap to the look, the next segment to the preparation."""
    face, player = face_on(State.READY)
    places = []
    for state in (State.ARMED, State.POLISH, State.STANDING, State.LOOK, State.CLOSED, State.READY):
        player.show(shot(state))
        face.see(player.snapshot(), 30.0)
        places.append(face.place)
    assert places == ["polish", "polish", "polish", "look", "look", "prepare"]


@pytest.mark.parametrize("pattern", ["wet_down", "fault"])
def test_water_and_faults_bring_the_screen_back(pattern: str) -> None:
    """Whoever reads the logbook or writes a note sees the call at once; the note is kept."""
    face, player = face_on(State.POLISH)
    press(face, ["5", "t", "d", "u"])
    player.show(shot(State.WET_DOWN, call=Call(pattern, "WET THE WORK NOW", "Flood it", 60.0)))
    face.see(player.snapshot(), 60.0)
    assert (face.place, face.page, face.typed) == ("polish", None, "du")


def test_quit_stops_first() -> None:
    """Quitting while the table turns sends STOP, says so, and closes only once the table rests."""
    face, player = face_on(State.POLISH)
    press(face, "q")
    assert player.acts == [Act.STOP]
    assert "STOPPING FIRST" in face.told
    face.see(player.snapshot(), 30.0)
    assert not face.gone
    player.show(shot(State.STANDING))
    face.see(player.snapshot(), 31.0)
    assert face.gone


@pytest.mark.parametrize("key", ["q", "ctrl+c", "ctrl+q"])
def test_quit_at_rest(key: str) -> None:
    """At rest the screen just closes."""
    face, player = face_on(State.READY)
    press(face, [key])
    assert face.gone
    assert player.acts == []


def test_pace_goes_down_to_life() -> None:
    """The pace of the simulated bench can be changed, down to life's time."""
    face, player = face_on(State.POLISH)
    press(face, "," * 9)
    assert player.pace == 1.0
    press(face, ["]"])
    assert player.pace == 2.0


@pytest.mark.parametrize("between", [[State.ARMING], []], ids=["seen arming", "armed at once"])
def test_the_questions_are_kept_with_the_arming(between: list[State]) -> None:
    """Answers and open questions go to the logbook once the board is armed, however quickly that came."""
    kept: list[dict[str, str]] = []
    face, player = face_on(State.READY, Places(keep_preparation=lambda answers: kept.append(dict(answers))))
    press(face, ["y", "y", "down", "y", "y", "p"])
    for at, state in enumerate([*between, State.ARMED, State.ARMED]):
        player.show(shot(state))
        face.see(player.snapshot(), 50.0 + at)
    assert kept == [
        {"mark": "yes", "pressed": "yes", "brushed": "not answered", "rinsed": "yes", "charged": "yes",
         "feel": "patchy", "weights": "not answered", "post": "not answered", "cleats": "not answered",
         "estop": "not answered"}
    ]  # fmt: skip


def test_the_next_segment_asks_anew() -> None:
    """What holds for the session stays answered; the rest is asked again."""
    face, player = face_on(State.READY)
    for key in "yyyyyeyyyy":
        press(face, key)
    assert face.checklist.left(face.asked(player.snapshot())) == 0
    for state in (State.CLOSED, State.READY):
        player.show(shot(state))
        face.see(player.snapshot(), 60.0)
    assert face.checklist.answers == {"estop": "yes"}


def test_a_mishap_is_chosen_by_its_letter() -> None:
    """In a rehearsal the second letter sets off the second mishap."""
    played: list[str] = []
    places = Places(mishaps=(("lap-stall", "x"), ("dry-lap", "y")), play=played.append)
    face, player = face_on(State.POLISH, places)
    press(face, "jb")
    assert played == ["dry-lap"]
    assert player.acts == []
    press(face, "jz", 60.0)
    assert played == ["dry-lap"]


def test_a_bench_loop_that_hangs_is_noticed() -> None:
    """If the snapshots stand still for half a second the screen knows; when they go on it forgets."""
    face, player = face_on(State.POLISH)
    face.see(player.snapshot(), 20.0)
    player.live = False
    still = player.snapshot()
    face.see(still, 20.4)
    assert not face.stale
    face.see(still, 20.6)
    assert face.stale
    player.live = True
    face.see(player.snapshot(), 20.7)
    assert not face.stale


def test_open_questions_hold_the_first_arm_on_a_real_bench() -> None:
    """On a real bench A says what is open and arms at the second press; in a rehearsal it arms at once."""
    face, player = face_on(State.READY, simulated=False)
    press(face, "a")
    assert player.acts == []
    assert "10 questions open" in face.told
    press(face, "a", 30.0)
    assert player.acts == [Act.ARM]
    face, player = face_on(State.READY, simulated=True)
    press(face, "a")
    assert player.acts == [Act.ARM]


def test_all_answered_arms_at_once() -> None:
    """With every question answered the first A arms."""
    face, player = face_on(State.READY, simulated=False)
    for key in "yyyyyeyyyya":
        press(face, key)
    assert player.acts == [Act.ARM]


def test_a_page_that_fails_does_not_stop_the_table() -> None:
    """A plan that raises is told on its page; nothing is stopped and the bench goes on."""

    def broken(_units: str) -> list[str]:
        raise ZeroDivisionError("by nought")

    face, player = face_on(State.POLISH, Places(plan=broken))
    press(face, "4")
    assert face.texts.lines["plan"] == ["This page failed, the bench goes on: ZeroDivisionError: by nought"]
    assert player.acts == []


def test_a_page_that_comes_late_does_not_replace_a_newer_one() -> None:
    """Asked for in millimetres and then in inches, the page in inches stays, whichever comes last."""
    waiting: list[Any] = []
    player = Player([shot(State.POLISH)])
    face = Face(player, Places(plan=lambda units: [units]), waiting.append)
    press(face, "4u")
    assert face.texts.lines["plan"] == ["One moment ..."]
    for work in reversed(waiting):
        work()
    assert face.texts.lines["plan"] == ["inch"]


def test_units_and_theme_are_chosen_by_a_key_and_kept() -> None:
    """U changes the units, D the theme; both are kept for the next time, and nothing of the bench changes."""
    kept: list[Preferences] = []
    asked: list[str] = []
    places = Places(
        keep_preferences=kept.append, differences=lambda units: [asked.append(units) or units], pieces=PIECES
    )
    face, player = face_on(State.READY, places)
    press(face, "udd")
    assert [(one.units, one.theme) for one in kept] == [
        ("inch", "terminal"), ("inch", "dark"), ("inch", "light"),
    ]  # fmt: skip
    assert face.differences == ["inch"]
    assert any("5.04 in" in question.asks for question in face.asked(player.snapshot()))
    assert player.acts == []


def test_preferences_that_cannot_be_kept_hold_for_this_session() -> None:
    """Where the file cannot be written the choice is shown all the same, and the reason told."""

    def refuse(_chosen: Preferences) -> None:
        raise BadInput("cannot write preferences.toml: no space left on device")

    face, _ = face_on(State.READY, Places(keep_preferences=refuse))
    press(face, "u")
    assert face.units == "inch"
    assert "not kept: cannot write preferences.toml" in face.told


@pytest.mark.parametrize("key", ["z", "b", "v", "f", "i"])
def test_an_answer_nobody_asked_for_counts_as_a_slap(key: str) -> None:
    """Keys that only answer an alarm mean STOP while the table speeds up and nothing is asked."""
    face, player = face_on(State.RAMP)
    face.place = "polish"
    press(face, key)
    assert player.acts == [Act.STOP]


@pytest.mark.parametrize(("key", "act"), [("k", Act.ACKNOWLEDGE), ("m", Act.SILENCE), ("x", Act.RESET)])
def test_seen_mute_and_reset_are_three_keys(key: str, act: Act) -> None:
    """Each of the three is one key, does its one act, also on the list of alarms, and only where allowed."""
    for before in ("", "0"):
        face, player = face_on(State.READY, allowed=frozenset({act, Act.STOP}))
        press(face, before + key)
        assert player.acts == [act]
        assert face.page == ("alarms" if before else None)
        face, player = face_on(State.READY, allowed=frozenset({Act.STOP}))
        press(face, before + key)
        assert player.acts == []


def test_a_key_works_through_the_lists_of_keys_and_alarms() -> None:
    """A key is pressed once: on these lists it does its act and closes them; 0 and ? toggle."""
    for page in ("?", "0"):
        face, player = face_on(State.STANDING)
        press(face, page + "l")
        assert player.acts == [Act.LIFTED]
        assert face.page is None
        press(face, page * 2, 60.0)
        assert face.page is None


def test_a_cold_press_is_begun_and_worked_by_keys() -> None:
    """C begins it on the preparation; S, W, L and E are its answers while it goes on; STOP stays STOP."""
    allowed = frozenset({Act.PRESS, Act.STOP, Act.NOTE})
    face, player = face_on(State.READY, allowed=allowed)
    face.place = "logbook"
    press(face, "c")
    assert player.done == [Done(Act.PRESS, "start")]
    assert face.place == "prepare"
    player.done.clear()
    player.show(shot(State.READY, allowed=allowed, press=pressing()))
    face.see(player.snapshot(), 40.0)
    press(face, ["s", "w", "l", "c"], 50.0)
    assert player.done == [Done(Act.PRESS, "shifted"), Done(Act.PRESS, "wetted")]
    press(face, ["space"], 60.0)
    assert player.acts[-1] is Act.STOP


def test_a_press_that_has_ended_answers_its_question() -> None:
    """Once the press is over the question whether the lap was pressed has its answer."""
    face, player = face_on(State.READY, press=pressing())
    done = PressRecord(
        outcome="completed", load_kg=14.0, load_n=190.0, planned_s=1200.0, length_s=1190.0,
        first_place_m=0.05, first_place_s=600.0,
    )  # fmt: skip
    player.show(shot(State.READY, pressed=done))
    face.see(player.snapshot(), 40.0)
    assert face.checklist.answers == {"pressed": "completed, 20 min"}


def test_another_mark_must_be_confirmed_anew() -> None:
    """A mark that was confirmed does not stay confirmed when another one is taken."""
    face, player = face_on(State.READY)
    press(face, "yy")
    player.show(shot(State.READY, mark=9))
    face.see(player.snapshot(), 40.0)
    assert list(face.checklist.answers) == ["pressed"]
    question = face.checklist.asked(face.asked(player.snapshot()))
    assert question is not None
    assert question.name == "mark"


def test_another_mark_is_taken_with_a_reason() -> None:
    """O asks for the number and the reason; Enter hands both on as they were typed."""
    face, player = face_on(State.READY, allowed=frozenset({Act.MARK, Act.STOP}))
    press(face, ["o", "9", "space", "c", "h", "i", "p", "enter"])
    assert player.done == [Done(Act.MARK, "9 chip")]
    assert face.page is None


@pytest.mark.parametrize(
    ("units", "typed", "words"),
    [
        ("metric", "21.5", "temperature 21.5 degC"),
        ("inch", "70", "temperature 70 degF"),
        ("inch", "21 C", "temperature 21 C"),
    ],
)
def test_the_room_is_told_during_a_press(units: str, typed: str, words: str) -> None:
    """H asks for the thermometer; a number alone is in the person's units, and C still begins a press."""
    face, player = face_on(State.READY, Places(preferences=Preferences(units=units)), press=pressing())
    press(face, ["h", *("space" if one == " " else one for one in typed), "enter"])
    assert player.done == [Done(Act.PRESS, words)]
    assert face.page is None
    face, player = face_on(State.READY, allowed=frozenset({Act.PRESS, Act.STOP}))
    press(face, "c")
    assert player.done == [Done(Act.PRESS, "start")]


def test_quitting_during_a_press_is_asked_twice() -> None:
    """While a press is under way the first Q only says so; the second one closes. STOP is not sent."""
    face, player = face_on(State.READY, press=pressing())
    press(face, "q")
    assert not face.gone
    assert "Press under way" in face.told
    press(face, "q", 40.0)
    assert face.gone
    assert player.acts == []
