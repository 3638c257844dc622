"""The terminal shell round the face: timers, keys in, rows out. STOP is looked at before anything else.

The app looks at the bench ten times a second and tells it that it is alive; neither ever waits for the
other. An exception anywhere in it sends STOP before the terminal is given back.
"""

from __future__ import annotations

import threading
from dataclasses import replace

from textual import events
from textual.app import App, ComposeResult

from benchctl.segment.states import State
from benchctl.session.snapshot import Snapshot
from benchctl.tui import pages
from benchctl.tui.alarm_page import alarm_page
from benchctl.tui.bench import Bench
from benchctl.tui.calls import Caller
from benchctl.tui.face import PRESSED_ON, Face, disarmed
from benchctl.tui.frame import BAR_ROWS, FOOT_ROWS, brief, screen
from benchctl.tui.look import look
from benchctl.tui.places import Places
from benchctl.tui.polish import polish
from benchctl.tui.prepare import Preparation, prepare
from benchctl.tui.press import press_page
from benchctl.tui.rows import Row
from benchctl.tui.sheet import Sheet
from benchctl.tui.signs import keys_line
from benchctl.tui.sound import Sounder
from benchctl.tui.texts import Work
from benchctl.tui.typed import TYPED, typed_page
from benchctl.tui.view import View

TICK_S = 0.1
BLINK_TICKS = 5
FEW_ROWS = 16
"""With fewer rows the list of keys takes the whole page."""
PAGE_THREAD = "page"
"""Name of the threads in which pages of text are made."""


def _in_thread(work: Work) -> None:
    threading.Thread(target=work, name=PAGE_THREAD, daemon=True).start()


class BenchApp(App[int]):
    """The screen of one bench."""

    TITLE = "benchctl"
    ENABLE_COMMAND_PALETTE = False
    CSS = "Screen { background: ansi_default; color: ansi_default; overflow: hidden; }"

    def __init__(self, bench: Bench, places: Places | None = None, sounder: Sounder | None = None) -> None:
        super().__init__(ansi_color=True)
        self.bench = bench
        self.face = Face(bench, places or Places(), _in_thread)
        self.sheet = Sheet(colour=not self.no_color)
        self.caller = Caller()
        self.sounder = sounder
        self.failure: BaseException | None = None
        self._slow: Snapshot = bench.snapshot()
        self._ticks = 0

    def compose(self) -> ComposeResult:
        """One sheet is the whole screen."""
        yield self.sheet

    def on_mount(self) -> None:
        """Begin to look."""
        self.set_interval(TICK_S, self.tick)
        self.call_after_refresh(self.draw)

    def on_resize(self) -> None:
        """Another size, the table may be turning: draw at once."""
        self.call_after_refresh(self.draw)

    def tick(self) -> None:
        """Ten times a second: the face answers, the countdown runs; figures at every other tick."""
        self.bench.answer()
        self._ticks += 1
        shot = self.bench.snapshot()
        if self._ticks % 2 == 0:
            self._slow = shot
        self.face.see(shot, self.now_s())
        if self.bench.crash is not None:
            raise self.bench.crash
        if self.face.gone:
            self.exit(0)
            return
        self.call_out(shot)
        self.draw()

    def call_out(self, shot: Snapshot) -> None:
        """Ring, sound and speak what is called, again and again until it is answered or muted."""
        sounding = self.caller.see(shot.call, self.now_s())
        if sounding is None:
            return
        self.bell()
        if self.sounder is not None:
            self.sounder.sound(sounding)
            if self.sounder.warning and not self.face.told:
                self.face.told, self.sounder.warning = self.sounder.warning, ""

    def now_s(self) -> float:
        """The event loop's own monotonic time, in seconds."""
        assert self._loop is not None
        return self._loop.time()

    def draw(self) -> None:
        """Put the page on the sheet."""
        self.sheet.theme = self.face.preferences.theme
        self.sheet.show(self.page())

    def page(self) -> list[Row]:
        """All rows of the screen as of now."""
        shot, face = self.bench.snapshot(), self.face
        width, height = self.size
        view = View(
            shot,
            self._slow,
            width,
            max(1, height - BAR_ROWS - FOOT_ROWS),
            self.bench.pace,
            self._blinks(shot),
            face.stale,
            face.units,
        )
        keys = keys_line(shot, width - 2)
        return screen(view, face.place, self._body(view), keys, face.told)

    def _blinks(self, shot: Snapshot) -> bool:
        """A fault that nobody has answered flashes, once a second."""
        fault = shot.call is not None and shot.call.pattern == "fault" and not shot.call.silenced
        return fault and self._ticks // BLINK_TICKS % 2 == 1

    def _body(self, view: View) -> list[Row]:
        face = self.face
        if face.page is None and view.shot.press is not None and face.place in PRESSED_ON:
            return press_page(view)
        if face.page is None and face.place == "polish":
            return polish(view)
        quiet = face.page is None and face.place == "prepare" and view.shot.state is State.READY
        crowded = face.page == "keys" and view.height < FEW_ROWS
        top = [] if quiet or crowded else brief(view)
        return [*top, *self._rest(replace(view, height=view.height - len(top)))]

    def _rest(self, view: View) -> list[Row]:
        face = self.face
        if face.page == "keys":
            return pages.keys_page(view)
        if face.page in TYPED:
            return typed_page(view, TYPED[face.page], face.typed, not disarmed(view.shot))
        if face.page == "alarms":
            return alarm_page(view)
        if face.page == "mishaps":
            return pages.mishap_page(view, face.places.mishaps)
        if face.place == "prepare":
            asked, blind = face.asked(view.shot), face.places.blind_spot()
            return prepare(
                view, Preparation(face.checklist, asked, face.differences, blind, face.looking.due)
            )
        if face.place == "look":
            seen = face.looking
            return look(view, seen.entry, seen.said, due=seen.due, before=seen.before)
        return pages.text_page(view, face.texts.lines.get(face.place, []), face.texts.scroll)

    def end_soon(self, status: int) -> None:
        """Leave as soon as the event loop is free; may be called from a signal handler."""
        if self._loop is not None and self._loop.is_running():
            self._loop.call_soon_threadsafe(self.exit, status)

    async def on_event(self, event: events.Event) -> None:
        """Every key goes to the face and nowhere else: no focus, no binding and no dialog can take STOP."""
        if isinstance(event, events.Key):
            if not event.is_forwarded:
                self.face.key(event.key, event.character, self.now_s())
                self.draw()
            return
        if isinstance(event, events.Paste):
            return
        await super().on_event(event)

    def _handle_exception(self, error: Exception) -> None:
        """STOP first; then the terminal is given back and the error kept for the report."""
        self.bench.stop_now()
        if self.failure is None:
            self.failure = error
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """No page of program text over the terminal: the report has it."""
        self._close_messages_no_wait()
