"""What the screen knows and what its keys do. Pure in time: `at_s` is handed in, in seconds.

STOP is Space and Escape on every page, goes out first and is never asked back. Every other key is one
key, one act, and only does what the snapshot allows. RUN is taken no sooner than half a second after the
board said armed, and only after the keys have been quiet, so that neither a key held down, nor a row of
keys typed ahead, nor pasted text can start the table.
"""

from __future__ import annotations

from collections.abc import Callable

from benchctl.errors import BadInput
from benchctl.models.preferences import THEMES, UNITS
from benchctl.segment.states import TURNING, State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui.alarm_page import ANSWERS
from benchctl.tui.bench import Bench
from benchctl.tui.checklist import Checklist, Question, questions
from benchctl.tui.endings import at_rest
from benchctl.tui.frame import PLACES
from benchctl.tui.looking import Looking
from benchctl.tui.pages import MISHAP_KEYS
from benchctl.tui.places import Places
from benchctl.tui.press import ROOM_KEY, press_key
from benchctl.tui.signs import ACT_OF_KEY, ONLY_ASKED
from benchctl.tui.texts import Texts, Work
from benchctl.tui.typed import TYPED, edited, handed_on

STOP_KEYS = ("space", "escape")
RUN_AFTER_ARMED_S = 0.5
QUIET_BEFORE_RUN_S = 0.4
STALE_S = 0.5
PACES = (1.0, 2.0, 5.0, 10.0, 16.0, 20.0, 40.0)
_PLACE_OF_KEY = {str(number): name for number, (name, _) in enumerate(PLACES, 1)}
PRESSED_ON = ("prepare", "polish")
"""Places on which a cold press is shown while one is under way."""
_PAGE_OF_KEY = {"?": "keys", "j": "mishaps", "0": "alarms"}
_PAGE_OF_ACT = {kind.act: page for page, kind in TYPED.items() if kind.act is not None and not kind.begins}
_HASTY = (State.STARTING, State.RAMP)
"""While the table speeds up, a letter that means nothing now is taken for somebody who wants STOP."""


class Face:
    """The state of the screen besides the bench's."""

    def __init__(self, bench: Bench, places: Places, aside: Callable[[Work], None] | None = None) -> None:
        self.bench = bench
        self.places = places
        self.place = "prepare"
        self.page: str | None = None
        """keys, note or mishaps, where one of these lies over the place."""
        self.checklist = Checklist()
        self.typed = ""
        self.told = ""
        self.leaving = False
        self.gone = False
        self.stale = False
        self.texts = Texts(places, aside)
        self.preferences = places.preferences
        self.differences = places.differences(self.units)
        self.looking = Looking(bench, places, self.units)
        self._state: State | None = None
        self._call: str | None = None
        self._pressing = False
        self._told_press = False
        self._mark: int | None = None
        self._told_open = False
        self._armed_s: float | None = None
        self._key_s = float("-inf")
        self._fresh: tuple[float, float] | None = None

    # Seeing

    def see(self, shot: Snapshot, at_s: float) -> None:
        """Follow the work from place to place, and notice a bench loop that has fallen silent."""
        if self._fresh is None or self._fresh[0] != shot.now_s:
            self._fresh = (shot.now_s, at_s)
        self.stale = at_s - self._fresh[1] > STALE_S
        self._follow_call(shot)
        self._follow_press(shot)
        if shot.mark != self._mark:
            self.checklist.ask_again("mark")
        self._mark = shot.mark
        before, self._state = self._state, shot.state
        if before != shot.state:
            self._entered(shot, before, at_s)
        if self.leaving and (at_rest(shot) or self.stale):
            self.gone = True

    def _follow_call(self, shot: Snapshot) -> None:
        """Water and faults bring the person back to where they can be seen from afar."""
        pattern = None if shot.call is None else shot.call.pattern
        if pattern != self._call and pattern in ("wet_down", "fault"):
            self.page = None
            self.place = "polish"
        elif pattern != self._call and pattern is not None and shot.press is not None:
            self.page = None
            self.place = "prepare"
        self._call = pattern

    def _follow_press(self, shot: Snapshot) -> None:
        """A press that has ended answers its question of the preparation."""
        if self._pressing and shot.press is None and shot.pressed is not None:
            how = shot.pressed.outcome.replace("_", " ")
            self.checklist.answers["pressed"] = f"{how}, {shot.pressed.length_s / 60.0:.0f} min"
        self._pressing = shot.press is not None
        self._told_press = self._told_press and self._pressing

    def _entered(self, shot: Snapshot, before: State | None, at_s: float) -> None:
        self._armed_s = at_s if shot.state is State.ARMED else None
        if (
            before in (State.READY, State.ARMING)
            and shot.state is State.ARMED
            and self.places.keep_preparation
        ):
            self.places.keep_preparation(self.checklist.kept(self.asked(shot)))
        if shot.state in (State.ARMED, State.STANDING) or (shot.state in TURNING and before is None):
            self.go("polish")
        elif shot.state is State.LOOK:
            self.looking.begin(self.units)
            self.go("look")
        elif shot.state is State.READY and before in (State.CLOSED, State.LOOK):
            self.checklist.renew(self.asked(shot))
            self._told_open = False
            self.differences = self.places.differences(self.units)
            self.looking.renew(self.units)
            self.go("prepare")

    def asked(self, shot: Snapshot) -> list[Question]:
        """The questions of the preparation."""
        return questions(shot, self.places.pieces, self.units)

    @property
    def units(self) -> str:
        """The units that are shown."""
        return self.preferences.units

    # Keys

    def key(self, key: str, character: str | None, at_s: float) -> None:
        """Take one key by its name, with its character where it has one. Letters count in either case."""
        shot = self.bench.snapshot()
        quiet = at_s - self._key_s >= QUIET_BEFORE_RUN_S
        self._key_s = at_s
        self.told = self.told if self.leaving else ""
        letter = (character or "").lower() if character and character.isprintable() else ""
        if key in STOP_KEYS and not (key == "space" and self.page in TYPED and disarmed(shot)):
            self._stop()
        elif self.page in TYPED:
            self._key_typed(key, character or "")
        elif self.page == "mishaps":
            self._key_in_mishaps(letter)
        elif _PAGE_OF_KEY.get(letter, "") == self.page:
            self.page = None
        else:
            self._key_seen_through(key, letter, shot, quiet, at_s)

    def _stop(self) -> None:
        self.bench.do(Done(Act.STOP))
        self.page = None

    def _key_seen_through(self, key: str, letter: str, shot: Snapshot, quiet: bool, at_s: float) -> None:
        """A key on a place, or through the lists of keys and alarms: they close, and the key acts."""
        page, self.page = self.page, None
        taken = (page is None and self._key_in_place(key, letter, shot)) or self._key_anywhere(
            key, letter, shot, quiet, at_s
        )
        if page == "alarms" and ACT_OF_KEY.get(letter) in ANSWERS:
            self.page = page
        elif not taken and shot.state in _HASTY and letter:
            self._stop()

    def _key_in_mishaps(self, letter: str) -> None:
        self.page = None
        at = MISHAP_KEYS.find(letter) if letter else -1
        if 0 <= at < len(self.places.mishaps) and self.places.play is not None:
            self.places.play(self.places.mishaps[at][0])
            self.told = f"mishap: {self.places.mishaps[at][0]}"

    def _key_typed(self, key: str, character: str) -> None:
        if key != "enter":
            self.typed = edited(self.typed, key, character)
            return
        words, kind = self.typed.strip(), TYPED[self.page or ""]
        self.typed, self.page = "", None
        if words and kind.act is not None:
            self.bench.do(Done(kind.act, handed_on(kind, words, self.units)))
        elif words and self.places.decide is not None:
            self.told = self.places.decide(words)
            self.texts.ask(self.place, self.units)

    def _key_in_place(self, key: str, letter: str, shot: Snapshot) -> bool:
        if shot.press is not None and self.place in PRESSED_ON:
            if letter == ROOM_KEY:
                self.page = "room"
                return True
            done = press_key(letter, shot)
            if done is not None:
                self.bench.do(done)
            return done is not None
        if self.place == "prepare" and shot.state is State.READY:
            return self.checklist.key(letter or key, self.asked(shot))
        if self.place == "look" and self.looking.open(shot):
            if letter == "p" and not self.looking.put_off(shot):
                self.go("prepare")
            return letter == "p" or self.looking.key(key, letter, shot)
        if self.place == "plan" and letter == "e" and self.places.decide is not None:
            self.page = "advice"
            return True
        return self.texts.key(self.place, key)

    def _key_anywhere(self, key: str, letter: str, shot: Snapshot, quiet: bool, at_s: float) -> bool:
        act = ACT_OF_KEY.get(letter)
        if act in shot.allowed or (act is not None and act not in ONLY_ASKED):
            self._act(act, shot, quiet, at_s)
        elif letter in _PLACE_OF_KEY:
            self.go(_PLACE_OF_KEY[letter])
        elif key in ("left", "right"):
            names = [name for name, _ in PLACES]
            self.go(names[(names.index(self.place) + (1 if key == "right" else -1)) % len(names)])
        elif letter in _PAGE_OF_KEY:
            self.page = _PAGE_OF_KEY[letter]
        elif letter in ("u", "d"):
            self._prefer(letter)
        elif letter in ("[", "]", ",", "."):
            self._pace(1 if letter in ("]", ".") else -1)
        elif letter == "q" or key in ("ctrl+c", "ctrl+q"):
            self.leave(shot)
        else:
            return False
        return True

    def _act(self, act: Act, shot: Snapshot, quiet: bool, at_s: float) -> None:
        if act not in shot.allowed:
            return
        if act in _PAGE_OF_ACT:
            self.page = _PAGE_OF_ACT[act]
        elif act is Act.PRESS:
            self._press(shot)
        elif act is Act.ARM and self._still_open(shot):
            return
        elif act is not Act.RUN or (quiet and self._armed_long(at_s)):
            self.bench.do(Done(act))

    def _press(self, shot: Snapshot) -> None:
        """Begin a cold press, or go back to the one under way."""
        self.go("prepare")
        if shot.press is None:
            self.bench.do(Done(Act.PRESS, "start"))

    def _still_open(self, shot: Snapshot) -> bool:
        """On a real bench open questions hold the first A; the second one arms all the same."""
        count = self.checklist.left(self.asked(shot))
        held = count > 0 and not shot.simulated and not self._told_open
        if held:
            self._told_open = True
            self.told = f"{count} questions open: answer them, or A again arms"
        return held

    def _armed_long(self, at_s: float) -> bool:
        return self._armed_s is not None and at_s - self._armed_s >= RUN_AFTER_ARMED_S

    def _pace(self, step: int) -> None:
        if self.bench.pace is None:
            return
        nearest = min(range(len(PACES)), key=lambda i: abs(PACES[i] - self.bench.pace_set))
        self.bench.set_pace(PACES[max(0, min(len(PACES) - 1, nearest + step))])

    def _prefer(self, letter: str) -> None:
        """Other units, or another theme; kept for the next time."""
        chosen = self.preferences
        if letter == "u":
            change = {"units": UNITS[(UNITS.index(chosen.units) + 1) % len(UNITS)]}
        else:
            change = {"theme": THEMES[(THEMES.index(chosen.theme) + 1) % len(THEMES)]}
        self.preferences = chosen.model_copy(update=change)
        self.told = ", ".join(f"{name}: {value}" for name, value in change.items())
        self.differences = self.places.differences(self.units)
        self.texts.ask(self.place, self.units)
        if self.places.keep_preferences is not None:
            try:
                self.places.keep_preferences(self.preferences)
            except BadInput as error:
                self.told += f", not kept: {error}"

    # Going

    def go(self, place: str) -> None:
        """Show another place."""
        self.place = place
        self.page = None
        self.texts.scroll = 0
        self.texts.ask(place, self.units)

    def leave(self, shot: Snapshot) -> None:
        """Quit; a table that turns or may turn is stopped first, and the screen stays until it rests."""
        if shot.press is not None and not self._told_press:
            self._told_press = True
            self.told = "Press under way: E once the lap is off; Q again closes"
            return
        if self.leaving or at_rest(shot):
            self.gone = True
            return
        self.leaving = True
        self.told = "STOPPING FIRST, closes at rest; Q again: close now"
        self.bench.do(Done(Act.STOP))


def disarmed(shot: Snapshot) -> bool:
    """Whether the table rests and nothing can make it turn but a new arming."""
    return not shot.turning and shot.state in (State.READY, State.STANDING, State.LOOK, State.CLOSED)
