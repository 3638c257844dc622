"""Block digits of our own, five rows high and two columns a stroke, to be read across a workshop."""

from __future__ import annotations

ROWS = 5
_GLYPHS: dict[str, tuple[str, ...]] = {
    "0": ("██████", "██  ██", "██  ██", "██  ██", "██████"),
    "1": ("  ██  ", "████  ", "  ██  ", "  ██  ", "██████"),
    "2": ("██████", "    ██", "██████", "██    ", "██████"),
    "3": ("██████", "    ██", " █████", "    ██", "██████"),
    "4": ("██  ██", "██  ██", "██████", "    ██", "    ██"),
    "5": ("██████", "██    ", "██████", "    ██", "██████"),
    "6": ("██████", "██    ", "██████", "██  ██", "██████"),
    "7": ("██████", "    ██", "   ██ ", "  ██  ", "  ██  "),
    "8": ("██████", "██  ██", "██████", "██  ██", "██████"),
    "9": ("██████", "██  ██", "██████", "    ██", "██████"),
    ":": ("  ", "██", "  ", "██", "  "),
    "-": ("      ", "      ", "██████", "      ", "      "),
    " ": ("      ", "      ", "      ", "      ", "      "),
}
GAP = " "


def big(text: str) -> list[str]:
    """The rows of `text` (digits, colon, minus, space) as blocks."""
    glyphs = [_GLYPHS[character] for character in text]
    return [GAP.join(glyph[row] for glyph in glyphs) for row in range(ROWS)]


def clock(seconds: float) -> str:
    """Minutes and seconds as `mm:ss`, rounded up so that zero means over; an hour is 60 minutes."""
    whole = max(0, int(seconds + 0.999))
    return f"{min(99, whole // 60):02d}:{whole % 60:02d}"
