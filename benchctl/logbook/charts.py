"""Small pictures for the report as inline SVG: lines, marks round the rim, places on the glass. No scripts.

Every picture is an image to a screen reader (`role`, `aria-label`); its figures stand in a table beside it.
Lines differ by dash as well as by shade, so that they can be told apart in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import Markup, escape

WIDTH, HEIGHT = 640, 220
LEFT, RIGHT, TOP, BOTTOM = 46, 96, 10, 34
PLOT_WIDTH, PLOT_HEIGHT = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
INKS = ("#0b3c5d", "#b5452c", "#3f7d3a", "#6b4c9a", "#8a6d00", "#444444")
DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 2", "1 2")
MOST_EVENT_NAMES = 12
Point = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A named row of points; `low` and `high` may give a range at each point, drawn as a thin bar."""

    name: str
    points: Sequence[Point]
    ranges: Sequence[tuple[float, float, float]] = ()
    """(x, low, high)."""


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round figures from low to high, about so many of them."""
    if not high > low:
        return [low]
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [number * step for number in range(first, math.floor(high / step + 1e-9) + 1)]


def thin(points: Sequence[Point], most: int = PLOT_WIDTH) -> list[Point]:
    """At most two points for each column of the picture, the least and the greatest, so that peaks stay."""
    if len(points) <= 2 * most:
        return list(points)
    low, high = points[0][0], points[-1][0]
    columns: dict[int, list[Point]] = {}
    for point in points:
        columns.setdefault(int((point[0] - low) / ((high - low) or 1.0) * (most - 1)), []).append(point)
    kept: list[Point] = []
    for column in columns.values():
        ends = {min(column, key=lambda p: p[1]), max(column, key=lambda p: p[1])}
        kept += sorted(ends)
    return kept


@dataclass(frozen=True)
class _Frame:
    x_low: float
    x_high: float
    y_low: float
    y_high: float

    def x(self, value: float) -> float:
        return LEFT + (value - self.x_low) / ((self.x_high - self.x_low) or 1.0) * PLOT_WIDTH

    def y(self, value: float) -> float:
        share = (value - self.y_low) / ((self.y_high - self.y_low) or 1.0)
        return TOP + PLOT_HEIGHT - min(1.0, max(0.0, share)) * PLOT_HEIGHT

    def place(self, point: Point) -> str:
        return f"{self.x(point[0]):.1f},{self.y(point[1]):.1f}"


@dataclass(frozen=True)
class Event:
    """Something that was changed: a thin line across the picture, with a word at its head."""

    x: float
    name: str


def line_chart(
    lines: Sequence[Line],
    *,
    label: str,
    x_name: str,
    y_name: str,
    y_range: tuple[float, float] | None = None,
    from_zero: bool = False,
    events: Sequence[Event] = (),
) -> Markup:
    """Lines over a common axis; `label` is read out where no picture can be seen. Empty without points.

    `from_zero` begins the axis below at 0; `events` outside of it are left out.
    """
    xs = [x for line in lines for x, _ in line.points]
    ys = [y for line in lines for _, y in line.points]
    ys += [end for line in lines for _, low, high in line.ranges for end in (low, high)]
    if not xs:
        return Markup("")
    y_low, y_high = y_range or _roomy(min(ys), max(ys))
    frame = _Frame(0.0 if from_zero else min(xs), max(xs), y_low, y_high)
    parts = [_axes(frame, x_name, y_name), *_events(frame, events)]
    labels = _label_places([(frame.y(line.points[-1][1]) if line.points else 0.0) for line in lines])
    for number, line in enumerate(lines):
        if line.points:
            parts.append(_line(frame, line, number, labels[number]))
    return svg(parts, label, WIDTH, HEIGHT)


def _roomy(low: float, high: float) -> tuple[float, float]:
    room = (high - low) * 0.08 or abs(high) * 0.1 or 1.0
    return low - room, high + room


def _axes(frame: _Frame, x_name: str, y_name: str) -> str:
    bottom = TOP + PLOT_HEIGHT
    parts = [f'<path class="axis" d="M{LEFT} {TOP}V{bottom}H{LEFT + PLOT_WIDTH}"/>']
    for tick in ticks(frame.y_low, frame.y_high):
        y = frame.y(tick)
        parts.append(f'<path class="grid" d="M{LEFT} {y:.1f}h{PLOT_WIDTH}"/>')
        parts.append(f'<text x="{LEFT - 5}" y="{y + 3:.1f}" text-anchor="end">{tick:.6g}</text>')
    for tick in ticks(frame.x_low, frame.x_high, 8):
        parts.append(
            f'<text x="{frame.x(tick):.1f}" y="{bottom + 13}" text-anchor="middle">{tick:.6g}</text>'
        )
    middle = LEFT + PLOT_WIDTH / 2
    parts.append(f'<text x="{middle:.0f}" y="{HEIGHT - 5}" text-anchor="middle">{escape(x_name)}</text>')
    turned = f'transform="translate(11 {TOP + PLOT_HEIGHT / 2:.0f}) rotate(-90)"'
    parts.append(f'<text {turned} text-anchor="middle">{escape(y_name)}</text>')
    return "".join(parts)


def _events(frame: _Frame, events: Sequence[Event]) -> list[str]:
    """Lines of what was changed; the words in two rows by turns, none where they are too many to read."""
    inside = [one for one in events if frame.x_low <= one.x <= frame.x_high]
    parts = [f'<path class="event" d="M{frame.x(one.x):.1f} {TOP}v{PLOT_HEIGHT}"/>' for one in inside]
    if len(inside) <= MOST_EVENT_NAMES:
        for number, one in enumerate(inside):
            x, y = frame.x(one.x), TOP + 8 + 10 * (number % 2)
            parts.append(f'<text class="quiet" x="{x + 3:.1f}" y="{y}">{escape(one.name)}</text>')
    return parts


def _label_places(wanted: Sequence[float], apart: float = 11.0) -> list[float]:
    """Heights for the lines' names so that none covers another."""
    places = list(wanted)
    order = sorted(range(len(places)), key=lambda i: places[i])
    for above, below in pairwise(order):
        places[below] = max(places[below], places[above] + apart)
    over = max(places, default=0.0) - (TOP + PLOT_HEIGHT)
    return [place - max(0.0, over) for place in places]


def _line(frame: _Frame, line: Line, number: int, label_y: float) -> str:
    ink, dash = INKS[number % len(INKS)], DASHES[number % len(DASHES)]
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    kept = thin(line.points)
    path = " ".join(frame.place(point) for point in kept)
    parts = [f'<polyline points="{path}" stroke="{ink}"{dashed}/>']
    if len(line.points) <= 120:
        parts += [
            f'<circle cx="{frame.x(x):.1f}" cy="{frame.y(y):.1f}" r="2" fill="{ink}"/>' for x, y in kept
        ]
    bars = [
        f"M{frame.x(x):.1f} {frame.y(low):.1f}V{frame.y(high):.1f}"
        for x, low, high in line.ranges[:: max(1, len(line.ranges) // PLOT_WIDTH)]
    ]
    if bars:
        parts.append(f'<path class="range" stroke="{ink}" d="{"".join(bars)}"/>')
    parts.append(
        f'<text x="{LEFT + PLOT_WIDTH + 5}" y="{label_y + 3:.1f}" fill="{ink}">{escape(line.name)}</text>'
    )
    return "".join(parts)


def svg(parts: Sequence[str], label: str, width: int, height: int) -> Markup:
    """A picture of so many pixels; `label` is read out where no picture can be seen."""
    head = f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img"'
    return Markup(f'{head} aria-label="{escape(label)}">{"".join(parts)}</svg>')
