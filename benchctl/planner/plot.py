"""A curve over the radius, for a terminal (braille dots) and as SVG text. No library needed.

In an SVG the rim, where figures are indicative, is shaded and labelled; in the terminal it is marked below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_STYLES = (("#1b4f72", ""), ("#b9770e", "7 4"), ("#6c3483", "2 4"), ("#196f3d", "10 3 2 3"))
_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 720, 440, 70, 20, 64, 56


@dataclass(frozen=True)
class Curve:
    """A named curve: x and y of one length, in the units of the axes."""

    name: str
    x: Sequence[float]
    y: Sequence[float]


def terminal_plot(curve: Curve, shaded_from: float, width: int = 60, height: int = 10) -> list[str]:
    """Lines of a plot from 0 up; the stretch from `shaded_from` on is marked 'indicative' below the axis."""
    low, high = curve.x[0], curve.x[-1]
    top = max(*curve.y, 0.0) * 1.05 or 1.0
    bottom = min(*curve.y, 0.0)
    cells = [[0] * width for _ in range(height)]
    for column in range(2 * width):
        value = _between(curve, low + (high - low) * (column + 0.5) / (2 * width))
        row = min(4 * height - 1, max(0, int((top - value) / (top - bottom) * 4 * height)))
        cells[row // 4][column // 2] |= _DOTS[row % 4][column % 2]
    labels = {0: f"{top:.3g}", height - 1: f"{bottom:.3g}"}
    lines = [
        f"{labels.get(i, ''):>7} │{''.join(chr(0x2800 + dot) for dot in row)}" for i, row in enumerate(cells)
    ]
    start = max(0, min(width, math.floor((shaded_from - low) / (high - low) * width)))
    lines.append(f"{'':>7} └{'─' * start}{'═' * (width - start)}")
    lines.append(f"{'':>9}{low:<8.4g}{f'{high:.4g}':>{width - 8}}")
    lines.append(f"{'':>9}{'═ indicative: within a few per cent of the edge':>{width}}")
    return lines


def _between(curve: Curve, x: float) -> float:
    """The curve's value at x, on straight lines between its points."""
    for i in range(1, len(curve.x)):
        if x <= curve.x[i]:
            span = curve.x[i] - curve.x[i - 1]
            share = (x - curve.x[i - 1]) / span if span > 0.0 else 1.0
            return curve.y[i - 1] + share * (curve.y[i] - curve.y[i - 1])
    return curve.y[-1]


def svg_plot(
    title: str, x_label: str, y_label: str, curves: Sequence[Curve], shaded_from: float | None = None
) -> str:
    """An SVG document with the curves, axes with round numbers, and a legend."""
    xs = [x for curve in curves for x in curve.x]
    ys = [y for curve in curves for y in curve.y]
    x_ticks, y_ticks = _ticks(min(xs), max(xs)), _ticks(min(*ys, 0.0), max(*ys, 0.0))
    frame = _Frame(min(xs), max(xs), y_ticks[0], max(y_ticks[-1], max(ys)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'font-family="sans-serif" font-size="13"><title>{escape(title)}</title>',
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="white"/>',
        _text(_LEFT, 22, title, "start", 15),
    ]
    if shaded_from is not None:
        left, right = frame.x(shaded_from), frame.x(frame.right)
        parts.append(
            f'<rect x="{left:.1f}" y="{_TOP}" width="{right - left:.1f}" '
            f'height="{_HEIGHT - _TOP - _BOTTOM}" fill="#e5e7e9"/>'
        )
        parts.append(_text(right - 4, _HEIGHT - _BOTTOM - 8, "indicative", "end", 11))
    parts += _axes(frame, x_ticks, y_ticks, x_label, y_label)
    for i, curve in enumerate(curves):
        parts += _drawn(frame, curve, i)
    return "\n".join([*parts, "</svg>\n"])


@dataclass(frozen=True)
class _Frame:
    left: float
    right: float
    bottom: float
    top: float

    def x(self, value: float) -> float:
        room = _WIDTH - _LEFT - _RIGHT
        return _LEFT + room * (value - self.left) / ((self.right - self.left) or 1.0)

    def y(self, value: float) -> float:
        room = _HEIGHT - _TOP - _BOTTOM
        return _HEIGHT - _BOTTOM - room * (value - self.bottom) / ((self.top - self.bottom) or 1.0)


def _axes(
    frame: _Frame, x_ticks: Sequence[float], y_ticks: Sequence[float], x_label: str, y_label: str
) -> list[str]:
    floor = _HEIGHT - _BOTTOM
    parts = []
    for tick in y_ticks:
        y = frame.y(tick)
        parts.append(f'<path d="M{_LEFT} {y:.1f}H{_WIDTH - _RIGHT}" stroke="#ccd1d1"/>')
        parts.append(_text(_LEFT - 8, y + 4, f"{tick:.4g}", "end"))
    for tick in x_ticks:
        if frame.left <= tick <= frame.right:
            parts.append(f'<path d="M{frame.x(tick):.1f} {floor}v5" stroke="black"/>')
            parts.append(_text(frame.x(tick), floor + 20, f"{tick:.4g}", "middle"))
    parts.append(f'<path d="M{_LEFT} {_TOP}V{floor}H{_WIDTH - _RIGHT}" fill="none" stroke="black"/>')
    parts.append(_text((_LEFT + _WIDTH - _RIGHT) / 2, _HEIGHT - 14, x_label, "middle"))
    middle = (_TOP + floor) / 2
    parts.append(
        f'<text x="18" y="{middle}" text-anchor="middle" transform="rotate(-90 18 {middle})">'
        f"{escape(y_label)}</text>"
    )
    return parts


def _drawn(frame: _Frame, curve: Curve, place: int) -> list[str]:
    colour, dashes = _STYLES[place % len(_STYLES)]
    style = f'fill="none" stroke="{colour}" stroke-width="2"' + (
        f' stroke-dasharray="{dashes}"' if dashes else ""
    )
    points = " ".join(f"{frame.x(x):.1f},{frame.y(y):.1f}" for x, y in zip(curve.x, curve.y, strict=True))
    left = _LEFT + (_WIDTH - _LEFT) * (place % 3) / 3
    row = 46 - 16 * (place // 3)
    return [
        f'<polyline points="{points}" {style}/>',
        f'<path d="M{left:.0f} {row}h30" {style}/>',
        _text(left + 36, row + 4, curve.name, "start", 12),
    ]


def _text(x: float, y: float, words: str, anchor: str, size: int = 13) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}">{escape(words)}</text>'


def _ticks(low: float, high: float) -> list[float]:
    """Round numbers (1, 2 or 5 times a power of ten) that cover the range, about six of them."""
    span = (high - low) or abs(high) or 1.0
    power = 10.0 ** math.floor(math.log10(span / 5))
    step = next(power * unit for unit in (1, 2, 5, 10) if span / (power * unit) <= 6)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [step * i for i in range(first, last + 1)]
