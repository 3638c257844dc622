"""The bench screen: five places in the order of the work, one key an act, STOP on Space and Escape always.

The app polls the bench's snapshot and tells it that it is alive; it never waits for the bench and the
bench never waits for it. Whatever ends the app, STOP goes out first.
"""

from __future__ import annotations

import signal
import sys
import traceback
from pathlib import Path
from typing import ClassVar

from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import ContentSwitcher, Input

from benchctl.segment.states import ENDING, TURNING, State
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Snapshot
from benchctl.tui import lines
from benchctl.tui.bench import Bench
from benchctl.tui.help import KeysPage, NotePage
from benchctl.tui.look import LookPlace
from benchctl.tui.paint import ABNORMAL, DANGER, NEUTRAL, QUIET, REVERSED, state_look
from benchctl.tui.places import Places
from benchctl.tui.polish import PolishPlace
from benchctl.tui.prepare import PreparePlace
from benchctl.tui.quiet_static import Quiet

PLACES = (
    ("prepare", "Prepare"), ("polish", "Polish"), ("look", "Look"), ("plan", "Plan"), ("logbook", "Logbook"),
)  # fmt: skip
PACES = (1.0, 2.0, 5.0, 10.0, 20.0, 40.0)
STOPPED_BY_SIGNAL = 3

_ACT_KEYS = {
    "a": Act.ARM, "r": Act.RUN, "s": Act.SPEED_UP, "w": Act.WETTED, "minus": Act.SLOWER, "plus": Act.FASTER,
    "equals_sign": Act.FASTER, "h": Act.HOLD_SLOW, "g": Act.GO_ON, "l": Act.LIFTED, "i": Act.WATCHING,
    "m": Act.SILENCE, "k": Act.ACKNOWLEDGE, "x": Act.RESET, "n": Act.NEXT,
}  # fmt: skip


class BenchApp(App[int]):
    """The screen of one bench."""

    CSS_PATH = "bench.tcss"
    ENABLE_COMMAND_PALETTE = False
    AUTO_FOCUS = None
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "stop_table", "STOP", priority=True),
        Binding("escape", "stop_table", "STOP", priority=True),
        Binding("ctrl+c", "leave", "quit", priority=True),
        *[Binding(key, f"act('{act.value}')", act.value) for key, act in _ACT_KEYS.items()],
        *[Binding(str(n), f"place('{name}')", name) for n, (name, _) in enumerate(PLACES, start=1)],
        Binding("e", "place('look')", "look"),
        Binding("t", "note", "note"),
        Binding("left_square_bracket", "pace(-1)", "slower pace"),
        Binding("right_square_bracket", "pace(1)", "faster pace"),
        Binding("question_mark", "keys", "keys"),
        Binding("q", "leave", "quit"),
    ]

    def __init__(self, bench: Bench, places: Places | None = None) -> None:
        super().__init__(ansi_color=True)
        self.bench = bench
        self.places = places or Places()
        self._state: State | None = None
        self._armed_key = False
        self._leaving = False

    def compose(self) -> ComposeResult:
        yield Quiet(id="places")
        yield Quiet(id="head")
        with ContentSwitcher(initial="prepare", id="body"):
            yield PreparePlace(id="prepare")
            yield PolishPlace(id="polish")
            yield LookPlace(self.places.save_look, self._looked)
            with VerticalScroll(id="plan", classes="page"):
                yield Quiet(id="plan_text")
            with VerticalScroll(id="logbook", classes="page"):
                yield Quiet(id="logbook_text")
        yield Quiet(id="stop")
        yield Quiet(id="keys")

    def on_mount(self) -> None:
        """Take the signals and begin to look at the bench."""
        self._take_signals()
        self._slow()
        self.set_interval(0.1, self._quick)
        self.set_interval(0.2, self._slow)

    def _take_signals(self) -> None:
        def came(*_: object) -> None:
            self.bench.stop_now()
            self.call_later(self.exit, STOPPED_BY_SIGNAL)

        for name in ("SIGTERM", "SIGHUP", "SIGINT"):
            number = getattr(signal, name, None)
            if number is not None:
                signal.signal(number, came)

    # Looking

    @property
    def place(self) -> str:
        """The id of the place that is shown."""
        return str(self.query_one("#body", ContentSwitcher).current)

    def _quick(self) -> None:
        self.bench.answer()
        shot = self.bench.snapshot()
        self._follow(shot)
        if self.place == "polish":
            polish = self.query_one(PolishPlace)
            polish.fit(self.size.height - 4, shot.call is not None)
            polish.show_time(shot)

    def _slow(self) -> None:
        shot = self.bench.snapshot()
        self._frame(shot)
        if self.place == "polish":
            self.query_one(PolishPlace).show(shot)
        elif self.place == "prepare":
            self.query_one(PreparePlace).show(shot)

    def _follow(self, shot: Snapshot) -> None:
        """Go with the work: to polish when it is armed, to the glass when the lap is lifted."""
        before, self._state = self._state, shot.state
        if before == shot.state:
            return
        if shot.state is State.ARMED or (shot.state in TURNING and before is None):
            self.action_place("polish")
        elif shot.state is State.LOOK:
            self.action_place("look")
        elif shot.state is State.READY and before is not None:
            self.action_place("prepare")
        if self._leaving and shot.state not in (*TURNING, *ENDING, State.STARTING):
            self.exit(0)

    def _frame(self, shot: Snapshot) -> None:
        width = self.size.width
        current = self.place
        names = "  ".join(
            f"[{n} {name}]" if key == current else f" {n} {name} " for n, (key, name) in enumerate(PLACES, 1)
        )
        where = lines.origin(shot, self.bench.pace)
        self.query_one("#places", Quiet).show(
            f"{names[: width - len(where) - 1]:<{width - len(where)}}{where}", QUIET
        )
        style, shape = state_look(shot)
        mark = "" if shot.mark is None else f"  mark {shot.mark}"
        head = f" {shape} {shot.headline}"
        tail = f"{shot.mirror}{mark}  {lines.turning(shot)} "
        self.query_one("#head", Quiet).show(f"{head:<{max(0, width - len(tail))}}{tail}"[:width], style)
        turning = shot.turning or shot.state in TURNING
        stop = " ■  SPACE = STOP  ■" + ("" if shot.record_kept else "   ▲ RECORD NOT ON DISK YET")
        self.query_one("#stop", Quiet).show(f"{stop:<{width}}", DANGER if turning else REVERSED)
        if not shot.record_kept:
            self.query_one("#stop", Quiet).show(f"{stop:<{width}}", ABNORMAL)
        self.query_one("#keys", Quiet).show(f" {lines.keys(shot, width)}", NEUTRAL)

    # Acting

    def on_key(self, event: events.Key) -> None:
        """In a line of text, keys are letters; nothing else reaches the bench from there."""
        if isinstance(self.focused, Input) and event.is_printable:
            event.stop()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While a line is typed at a resting table, Space is a space and letters are letters."""
        typing = isinstance(self.focused, Input)
        if typing and action in ("act", "place", "note", "pace", "keys"):
            return False
        if typing and action == "stop_table" and self._resting():
            return None
        return True

    def _resting(self) -> bool:
        shot = self.bench.snapshot()
        return not shot.turning and shot.state not in (*TURNING, *ENDING, State.STARTING, State.ARMED)

    def action_stop_table(self) -> None:
        """STOP, at once, from anywhere."""
        self.bench.do(Done(Act.STOP))

    def action_act(self, name: str) -> None:
        """Pass on a person's act, if it does something now."""
        act = Act(name)
        if act in self.bench.snapshot().allowed:
            self.bench.do(Done(act))

    def action_place(self, name: str) -> None:
        """Show another place."""
        self.query_one("#body", ContentSwitcher).current = name
        if name == "look":
            self.query_one(LookPlace).start()
        else:
            self.screen.set_focus(None)
        if name in ("plan", "logbook"):
            text = self.places.plan() if name == "plan" else self.places.logbook()
            self.query_one(f"#{name}_text", Quiet).show("\n".join(text))
        self._slow()

    def action_pace(self, step: int) -> None:
        """Let the simulated bench run slower or faster, down to life's time."""
        if self.bench.pace is None:
            return
        nearest = min(range(len(PACES)), key=lambda i: abs(PACES[i] - self.bench.pace_set))
        self.bench.set_pace(PACES[max(0, min(len(PACES) - 1, nearest + step))])

    def action_keys(self) -> None:
        """Show the page of keys."""
        self.push_screen(KeysPage())

    def action_note(self) -> None:
        """Ask for a line and put it into the log."""

        def take(text: str | None) -> None:
            if text:
                self.bench.do(Done(Act.NOTE, text))

        self.push_screen(NotePage(), take)

    def action_leave(self) -> None:
        """Quit; a turning table is stopped first, and the screen stays until it rests."""
        if self._resting():
            self.exit(0)
            return
        self._leaving = True
        self.bench.do(Done(Act.STOP))
        self.notify("Stopping the table first; the screen closes when it rests.", markup=False)

    def _looked(self) -> None:
        self.bench.do(Done(Act.LOOKED))


def run_screen(bench: Bench, *, places: Places | None = None, state_folder: Path | None = None) -> int:
    """Run the screen until it is left; the exit status. STOP goes out whatever ends it."""
    app = BenchApp(bench, places)
    try:
        status = app.run()
        crash: BaseException | None = app._exception
    except BaseException as error:  # noqa: BLE001 - the table is stopped whatever it was
        status, crash = None, error
    bench.stop_and_close()
    if crash is not None:
        _report(crash, state_folder)
        return 1
    return int(status or app.return_code or 0)


def _report(error: BaseException, folder: Path | None) -> None:
    """Keep what is known of a crash in a file and name it."""
    text = "".join(traceback.format_exception(error))
    if folder is None:
        print(text, file=sys.stderr)
        return
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "last-crash.txt"
    path.write_text(text, encoding="utf-8")
    print(f"benchctl: the screen failed; the table was told to stop. What is known: {path}", file=sys.stderr)
