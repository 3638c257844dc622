"""The page of keys."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen

from benchctl.tui.lines import KEY_OF
from benchctl.tui.paint import DANGER, NEUTRAL
from benchctl.tui.quiet_static import Quiet


class KeysPage(ModalScreen[None]):
    """Every key, in one page; any key closes it, and Space and Escape stop the table here too."""

    DEFAULT_CSS = """
    KeysPage { align: center middle; }
    #sheet { width: 58; height: auto; border: solid; padding: 0 1; background: $background; }
    """

    def compose(self) -> ComposeResult:
        with Vertical(id="sheet"):
            yield Quiet(id="sheet_stop")
            yield Quiet(id="sheet_keys")

    def on_mount(self) -> None:
        self.query_one("#sheet_stop", Quiet).show(
            " ■ SPACE or ESCAPE: STOP, everywhere, never asked back ", DANGER
        )
        acts = [f"{key}  {name}" for key, name in KEY_OF.values()]
        others = ["1-5  places", "[ ]  pace of the simulated bench", "Q  quit: stops the table first"]
        half = (len(acts) + 1) // 2
        rows = [f"{left:<26}{right}" for left, right in zip(acts[:half], [*acts[half:], ""], strict=False)]
        self.query_one("#sheet_keys", Quiet).show("\n".join([*rows, *others]), NEUTRAL)

    def on_key(self) -> None:
        """Any key closes the page."""
        self.dismiss(None)


class NotePage(ModalScreen[str]):
    """One line for a note. While the table turns Space is STOP, so words are parted by dots."""

    DEFAULT_CSS = """
    NotePage { align: center middle; }
    #sheet { width: 70; height: auto; border: solid; padding: 0 1; background: $background; }
    """

    def compose(self) -> ComposeResult:
        from textual.widgets import Input

        with Vertical(id="sheet"):
            yield Quiet(id="note_ask")
            yield Input(id="note_entry", max_length=400)

    def on_mount(self) -> None:
        words = "Note, then Enter. While the table turns Space is STOP: part words by dots."
        self.query_one("#note_ask", Quiet).show(words)

    def on_input_submitted(self, event: object) -> None:
        """Hand the note back."""
        self.dismiss(str(getattr(event, "value", "")).strip())
