"""The place after the segment: look at the glass, zone by zone, always from the centre to the edge."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from benchctl.tui.paint import NEUTRAL, QUIET, REVERSED
from benchctl.tui.quiet_static import Quiet

ZONES = ("zone 1, inmost", "zone 2", "zone 3, middle", "zone 4", "zone 5, outmost", "last 5 mm of the rim")
HELP = "Grey 0 (none) to 10 (as ground), then Enter. Empty: not looked at."


class LookPlace(Vertical):
    """Asks for the grey of each zone, one at a time; hands the whole to `save`, which says what was kept."""

    def __init__(self, save: Callable[[dict[str, Any]], str], done: Callable[[], None]) -> None:
        super().__init__(id="look")
        self._save, self._done = save, done
        self._grey: list[float | None] = []

    def compose(self) -> ComposeResult:
        yield Quiet(id="look_do")
        yield Quiet(id="look_help")
        yield Quiet(id="look_seen")
        yield Quiet(id="look_ask")
        yield Input(id="look_entry", max_length=5, restrict=r"[0-9.]*")
        yield Quiet(id="look_said")

    def on_mount(self) -> None:
        self._ask("")

    def start(self) -> None:
        """Begin a look anew and take the keys."""
        self._grey = []
        self._ask("")
        self.query_one("#look_entry", Input).focus()

    def _ask(self, said: str) -> None:
        asked = len(self._grey)
        self._put("look_do", " ▶ Wipe, dry, look from centre to edge in the same light ", REVERSED)
        self._put("look_help", HELP, QUIET)
        seen = [f"  {name}: {_shown(grey)}" for name, grey in zip(ZONES, self._grey, strict=False)]
        self._put("look_seen", "\n".join(seen))
        self._put("look_ask", f"Grey of {ZONES[asked]}?" if asked < len(ZONES) else "", NEUTRAL)
        self._put("look_said", said)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take one zone; after the last, save them all."""
        text = event.value.strip()
        grey = None
        if text:
            try:
                grey = float(text)
            except ValueError:
                grey = -1.0
            if not 0.0 <= grey <= 10.0:
                self._ask("Grey is a number from 0 to 10; try again.")
                return
        event.input.value = ""
        self._grey.append(grey)
        if len(self._grey) < len(ZONES):
            self._ask("")
            return
        said = self._save({"zones": self._grey[:5], "edge": self._grey[5]})
        self._grey = []
        self._ask(said)
        self.screen.set_focus(None)
        self._done()

    def _put(self, name: str, text: str, style: str = "") -> None:
        self.query_one(f"#{name}", Quiet).show(text, style)


def _shown(grey: float | None) -> str:
    return "not looked at" if grey is None else f"{grey:g}"
