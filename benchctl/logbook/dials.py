"""Round pictures for the report: the rim with its marks and what is left of the print, and blemishes.

Seen from the front, mark 1 at the top, angles clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from benchctl.logbook.charts import DASHES, INKS, Point, svg

RIM, DIAL = 120.0, 310
PATH = 78.0
"""Radius, within the rim, at which all of the print would be left."""
LONGEST_WAY = 200
"""Segments whose way is drawn: the newest ones."""


@dataclass(frozen=True)
class Spot:
    """Something on the glass: its number, kind, place, and whether it is new."""

    number: str
    kind: str
    angle_deg: float
    radius_m: float
    new: bool = False


def _at(angle_deg: float, radius: float) -> Point:
    """Picture coordinates; 0 degrees is at the top, angles run clockwise."""
    turn = math.radians(angle_deg)
    return DIAL / 2 + radius * math.sin(turn), DIAL / 2 - radius * math.cos(turn)


def _ring(radius: float, kind: str = "outline") -> str:
    return f'<circle cx="{DIAL / 2:.0f}" cy="{DIAL / 2:.0f}" r="{radius:.1f}" class="{kind}"/>'


def rim_dial(
    count: int,
    used: Collection[int],
    last: int | None,
    left: Sequence[tuple[str, Sequence[complex]]],
    *,
    label: str,
) -> Markup:
    """The marks round the rim, used ones filled, the last one ringed; within, what is left of the print.

    `left` are named rows of print sums, as shares of one place for ever: 1 lies on the inner ring, 0 in the
    middle.
    """
    parts = [_ring(RIM), _ring(PATH, "faint"), _ring(PATH / 2, "faint")]
    for number, (name, sums) in enumerate(left):
        parts.append(_path(name, sums, number))
    for mark in range(1, count + 1):
        angle = 360 * (mark - 1) / count
        x, y = _at(angle, RIM)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" class="{"used" if mark in used else "unused"}"/>'
        )
        if mark == last:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10" class="outline"/>')
        x, y = _at(angle, RIM + 20)
        parts.append(f'<text x="{x:.1f}" y="{y + 3.5:.1f}" text-anchor="middle">{mark}</text>')
    return svg(parts, label, DIAL, DIAL)


def _path(name: str, sums: Sequence[complex], number: int) -> str:
    ink, dash = INKS[number % len(INKS)], DASHES[number % len(DASHES)]
    points = [_at(math.degrees(math.atan2(one.imag, one.real)), PATH * min(1.0, abs(one))) for one in sums]
    if not points:
        return ""
    way = " ".join(f"{x:.1f},{y:.1f}" for x, y in points[-LONGEST_WAY:])
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    x, y = points[-1]
    top = DIAL - 16 + 12 * number
    return (
        f'<polyline class="way" points="{way}" stroke="{ink}"{dashed}/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="{ink}"/>'
        f'<path stroke="{ink}"{dashed} class="way" d="M4 {top - 4}h24"/>'
        f'<text x="32" y="{top}" fill="{ink}">{escape(name)}</text>'
    )


def glass_map(spots: Sequence[Spot], radius_m: float, hole_radius_m: float, *, label: str) -> Markup:
    """Blemishes on the glass, each by the sign of its kind and its number; a new one is ringed."""
    parts = [_ring(RIM)]
    if hole_radius_m > 0:
        parts.append(_ring(RIM * hole_radius_m / radius_m))
    for hour in range(12):
        (x1, y1), (x2, y2) = _at(30 * hour, RIM), _at(30 * hour, RIM + 5)
        parts.append(f'<path class="axis" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>')
    for angle, name in ((0, "mark 1"), (90, "90°"), (180, "180°"), (270, "270°")):
        x, y = _at(angle, RIM + 16)
        parts.append(f'<text x="{x:.1f}" y="{y + 3.5:.1f}" text-anchor="middle">{name}</text>')
    for spot in spots:
        x, y = _at(spot.angle_deg, RIM * min(1.0, spot.radius_m / radius_m))
        parts.append(sign(spot.kind, x, y))
        if spot.new:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9" class="outline"/>')
        parts.append(f'<text x="{x + 7:.1f}" y="{y - 5:.1f}">{escape(spot.number)}</text>')
    return svg(parts, label, DIAL, DIAL)


_SIGNS = {
    "sleek": "m-5 4l10 -8",
    "scratch": "m-5 -4l10 8m-10 0l10 -8",
    "pit": "m0 -4l4 4l-4 4l-4 -4Z",
    "stain": "m-4 -4h8v8h-8Z",
    "dried compound": "m-5 -2h10m-10 4h10",
    "chip": "m0 -5l5 9h-10Z",
}
"""The sign of each kind as a path from its middle; they differ by shape, not by colour."""
_OTHER = "m-4 0h8m-4 -4v8"


def sign(kind: str, x: float, y: float) -> str:
    """The sign of a kind of blemish, its middle at a point of a picture."""
    return f'<path class="sign" d="M{x:.1f} {y:.1f}{_SIGNS.get(kind, _OTHER)}"/>'


def sign_picture(kind: str) -> Markup:
    """The sign alone, for the table beside the map."""
    return svg([sign(kind, 8, 8)], f"sign of {kind or 'a blemish'}", 16, 16)
