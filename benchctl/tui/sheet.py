"""The one widget: rows with roles onto the terminal, only those that have changed."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from benchctl.tui.paint import COLOURLESS, GROUNDS, ROLES
from benchctl.tui.rows import Row, fit


class Sheet(Widget):
    """Shows rows as they are handed in; nothing in them is read as markup."""

    DEFAULT_CSS = "Sheet { width: 100%; height: 100%; background: ansi_default; color: ansi_default; }"

    def __init__(self, colour: bool = True) -> None:
        super().__init__()
        self._colour = colour
        self._theme = ""
        self._rows: list[Row] = []
        self.theme = "terminal"

    @property
    def theme(self) -> str:
        """The ground on which all is drawn; without colour it is always the terminal's own."""
        return self._theme

    @theme.setter
    def theme(self, theme: str) -> None:
        if theme == self._theme:
            return
        self._theme = theme
        ground = Style.parse(GROUNDS[theme] if self._colour else "")
        roles = ROLES if self._colour else COLOURLESS
        self._styles = {role: ground + Style.parse(style) for role, style in roles.items()}
        self.refresh()

    def show(self, rows: Sequence[Row]) -> None:
        """Show `rows`; those that are as before are not drawn again."""
        width = self.size.width
        before, self._rows = self._rows, [fit(line, width) for line in rows] if width else list(rows)
        changed = [y for y, line in enumerate(self._rows) if y >= len(before) or before[y] != line] + list(
            range(len(self._rows), len(before))
        )
        if changed:
            self.refresh(*(Region(0, y, width, 1) for y in changed))

    def render_line(self, y: int) -> Strip:
        """One row as segments."""
        width = self.size.width
        if y >= len(self._rows):
            return Strip.blank(width, self._styles[""])
        line = fit(self._rows[y], width)
        return Strip([Segment(text, self._styles.get(role, self._styles[""])) for text, role in line], width)
