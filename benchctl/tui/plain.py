"""The bench in lines: one per event, one every ten seconds; for pipes, phones and screen readers.

An act is typed by its name and Enter; starting takes two of them, as on the screen. STOP is `stop`, or an
empty line.
"""

from __future__ import annotations

import queue
import sys
import threading
from pathlib import Path
from typing import TextIO

from benchctl.errors import BadInput
from benchctl.logbook.look_words import look_of
from benchctl.segment.states import TURNING, State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui import lines
from benchctl.tui.bench import Bench
from benchctl.tui.blocks import clock, clock_up
from benchctl.tui.checklist import Checklist, questions
from benchctl.tui.endings import DEFECT, at_rest, report, signals_stop, status_of
from benchctl.tui.places import Places
from benchctl.tui.prepare import Preparation, set_up
from benchctl.units import printable

_NAMES = {"segment", "mirror"}
EVERY_S = 10.0
LOOK_S = 0.1
_WITH_WORDS = (Act.STOP, Act.LOOKED, Act.NOTE, Act.PRESS, Act.MARK)
HELP = (
    "Type an act and Enter. An empty line or 'stop' is STOP. STOP is not an emergency stop.",
    f"Acts: {', '.join(act for act in Act if act not in _WITH_WORDS)}.",
    "'mark 9 REASON' takes another mark; 'press start' begins a cold press, then 'press shifted', 'press "
    "wetted', 'press temperature 21 C', 'press lifted'; 'note TEXT'; 'look 9 9 8 8 9 9' is the grey of five "
    "zones and the rim ('look' alone names the rest); 'help'; 'quit'.",
)


def run_plain(
    bench: Bench,
    out: TextIO,
    *,
    source: TextIO | None = None,
    places: Places | None = None,
    state_folder: Path | None = None,
) -> int:
    """Tell the bench in lines and take typed acts until `quit`, the end of `source` or a signal; exit status.

    The status is that of the screen: 3 where a signal stopped the table, 1 after a crash, 4 for a lost link.
    """
    face = PlainFace(bench, out, places or Places())
    typed = _reader(source or sys.stdin)
    pause = threading.Event()
    crash: BaseException | None = None
    with signals_stop(bench, face.leave) as came:
        try:
            face.help()
            while not face.over and bench.crash is None:
                bench.answer()
                face.look(LOOK_S)
                while not typed.empty():
                    face.take(typed.get_nowait())
                pause.wait(LOOK_S)
        except BrokenPipeError:
            face.leave()
        except BaseException as error:  # noqa: BLE001 - the table is stopped whatever it was
            crash = error
        bench.stop_now()
        bench.stop_and_close()
    crash = bench.crash or crash
    if crash is None:
        return status_of(bench, came)
    report(crash, state_folder)
    return DEFECT


def _reader(source: TextIO) -> queue.Queue[str]:
    words: queue.Queue[str] = queue.Queue()

    def read() -> None:
        for line in source:
            words.put(line.strip())
        words.put("quit")

    threading.Thread(target=read, name="typed lines", daemon=True).start()
    return words


class PlainFace:
    """Turns snapshots into lines and typed lines into acts. `over` is true once it may end."""

    def __init__(self, bench: Bench, out: TextIO, places: Places) -> None:
        self._bench = bench
        self._out = out
        self._places = places
        self._since_told_s = 0.0
        self._last: tuple[object, ...] = ()
        self._call: str | None = None
        self._headline = ""
        self._refusal = ""
        self._leaving = False
        self.over = False

    def say(self, words: str) -> None:
        """One line."""
        print(printable(words, 400), file=self._out, flush=True)

    def help(self) -> None:
        """What can be typed, STOP first."""
        for line in HELP:
            self.say(line)

    def leave(self) -> None:
        """STOP, and end once the table rests."""
        self._leaving = True
        self._bench.stop_now()

    def look(self, dt_s: float) -> None:
        """Tell what has changed; while the table turns, a summary every ten seconds. `dt_s`: since before."""
        shot = self._bench.snapshot()
        self._tell_lines(shot)
        if shot.headline != self._headline:
            self._headline = shot.headline
            origin = lines.origin(shot, self._bench.pace)
            self.say(f"{origin + '  ' if origin else ''}{shot.headline}: {shot.do_now}")
            if why := lines.why(shot):
                self.say(why)
            if shot.state is State.READY:
                self._tell_preparation(shot)
        self._tell_call(shot)
        if shot.refusal and shot.refusal != self._refusal:
            self.say(f"REFUSED  {shot.refusal}")
        self._refusal = shot.refusal
        self._since_told_s += dt_s
        if shot.state in TURNING and self._since_told_s >= EVERY_S:
            self._since_told_s = 0.0
            self.say(summary(shot, self._bench.pace))
        self.over = self._leaving and at_rest(shot)

    def _tell_preparation(self, shot: Snapshot) -> None:
        """The set-up, what is otherwise than last time, and what to check before arming."""
        units = self._places.preferences.units
        asked = questions(shot, self._places.pieces, units)
        different, blind = self._places.differences(units), self._places.blind_spot()
        known = Preparation(Checklist(), asked, different, blind, self._places.look_due())
        for text, _ in set_up(shot, units, known):
            self.say(text)
        for question in asked:
            self.say(f"check: {question.asks}")

    def _tell_lines(self, shot: Snapshot) -> None:
        news = list(shot.lines)
        if self._last in news:
            news = news[len(news) - news[::-1].index(self._last) :]
        for line in news:
            self.say(f"{clock_up(line.at_s)}  {lines.happened(line, self._places.preferences.units)}")
            self._last = line

    def _tell_call(self, shot: Snapshot) -> None:
        title = None if shot.call is None else shot.call.title
        if title == self._call:
            return
        self._call = title
        if shot.call is not None:
            due = "" if shot.call.due_in_s is None else f" ({clock(shot.call.due_in_s)} left)"
            self.say(f"CALL  {shot.call.title}: {shot.call.do}{due}")

    def take(self, typed: str) -> None:
        """One typed line."""
        word, _, rest = typed.partition(" ")
        word = word.lower()
        if word in ("", "stop"):
            self._bench.do(Done(Act.STOP))
        elif word in ("quit", "q"):
            self.leave()
        elif word == "help":
            self.help()
        elif word == "look":
            self._look_typed(rest)
        elif word in {act.value for act in Act}:
            self._act(Act(word), rest)
        else:
            self.say(f"'{word}' is not an act; 'help' names them")

    def _act(self, act: Act, rest: str) -> None:
        shot = self._bench.snapshot()
        if act in shot.allowed:
            self._bench.do(Done(act, rest[:400]))
        else:
            self.say(f"{act.value}: not now ({shot.headline.lower()}); {shot.do_now}")

    def _look_typed(self, rest: str) -> None:
        try:
            look = look_of(rest.split()).model_dump(mode="json", exclude=_NAMES, exclude_unset=True)
        except BadInput as error:
            self.say(str(error))
            return
        said = self._places.save_look(look)
        self.say(said)
        if not said.startswith("Not kept") and Act.LOOKED in self._bench.snapshot().allowed:
            self._bench.do(Done(Act.LOOKED))


def summary(shot: Snapshot, pace: float | None) -> str:
    """One line of the running segment."""
    origin = lines.origin(shot, pace)
    return (
        f"{origin + '  ' if origin else ''}{clock(shot.left_s)} left; "
        f"table {lines.number(shot.table_rpm)} rpm, "
        f"lap {lines.number(shot.lap.lap_rpm)} rpm, spin ratio {lines.number(shot.lap.spin_ratio, 2)}, "
        f"load {lines.number(shot.load_percent, 0)} %; {shot.lap.words}; "
        f"{lines.water(shot)}; {lines.turns(shot)}"
    )
