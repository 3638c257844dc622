"""A static text that is redrawn only when its text or style has changed, and never reads markup."""

from __future__ import annotations

from rich.text import Text
from textual.widgets import Static


class Quiet(Static):
    """Plain text with one style; outside text goes through it as it is."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__("", id=id, classes=classes, markup=False)
        self._shown: tuple[str, str] | None = None

    def show(self, text: str, style: str = "") -> None:
        """Show `text` in `style`; nothing happens when both are as before."""
        if self._shown != (text, style):
            self._shown = (text, style)
            self.update(Text(text, style=style, no_wrap=True, overflow="ellipsis"))
