"""What the watcher must know of the set-up, and what earlier segments have taught it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from benchctl.errors import BadInput


@dataclass(frozen=True, slots=True)
class WatchSettings:
    """Sensor and geometry of one set-up. Lengths in metres, times in seconds.

    `load_jump` is the predicted rise of motor load when the lap stops, as a share (0.2 is 20 %); None takes
    the watcher's own estimate from the geometry. `placement` are the widths of the gaps between targets
    in lap turns, in the order in which they pass, as `LapWatch.memory` gave them; None has them learned.
    `reference_ratio` is the spin ratio of earlier segments of this same set-up.
    """

    targets_per_turn: int
    clock_tick_s: float
    mirror_radius_m: float
    lap_radius_m: float
    post_offset_m: float
    hole_radius_m: float = 0.0
    table_edges_per_turn: int | None = None
    load_jump: float | None = None
    placement: tuple[float, ...] | None = None
    reference_ratio: float | None = None

    def __post_init__(self) -> None:
        _whole("targets_per_turn", self.targets_per_turn, 1, 60)
        if self.table_edges_per_turn is not None:
            _whole("table_edges_per_turn", self.table_edges_per_turn, 1, 10_000)
        _within("clock_tick_s", self.clock_tick_s, 0.0, 0.05)
        _within("mirror_radius_m", self.mirror_radius_m, 0.01, 5.0)
        _within("lap_radius_m", self.lap_radius_m, 0.01, 5.0)
        _within("post_offset_m", self.post_offset_m, 0.0, 5.0)
        _within("hole_radius_m", self.hole_radius_m, 0.0, 0.99 * self.mirror_radius_m)
        if self.load_jump is not None:
            _within("load_jump", self.load_jump, 0.0, 20.0)
        if self.reference_ratio is not None:
            _within("reference_ratio", self.reference_ratio, 0.01, 1.2)
        self._check_contact()
        self._check_placement()

    def _check_contact(self) -> None:
        if self.post_offset_m >= self.mirror_radius_m + self.lap_radius_m:
            raise BadInput(
                f"post_offset_m: {self.post_offset_m:g} m leaves the lap off the mirror; it must be below "
                f"{self.mirror_radius_m + self.lap_radius_m:g} m, the two radii together."
            )

    def _check_placement(self) -> None:
        widths = self.placement
        if widths is None:
            return
        if len(widths) != self.targets_per_turn:
            raise BadInput(
                f"placement: {len(widths)} widths for {self.targets_per_turn} targets; give one a target, or "
                "leave it out to have it learned."
            )
        if not all(math.isfinite(width) and width > 0.0 for width in widths) or abs(sum(widths) - 1.0) > 0.01:
            raise BadInput("placement: the widths must be above 0 and add up to 1 lap turn within 1 %.")


def remembering(settings: WatchSettings, memory: dict[str, object]) -> WatchSettings:
    """The settings with what an earlier watcher of the same set-up learned; what does not fit is left out."""
    reference, placement = memory.get("reference_ratio"), memory.get("placement")
    kept = tuple(placement) if isinstance(placement, list | tuple) else None
    if kept is not None and len(kept) != settings.targets_per_turn:
        kept = None
    ratio = reference if isinstance(reference, float) else None
    return replace(settings, reference_ratio=ratio, placement=kept)


def _within(name: str, value: float, low: float, high: float) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise BadInput(f"{name}: {value!r} is not a number from {low:g} to {high:g}; correct it.")


def _whole(name: str, value: int, low: int, high: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise BadInput(f"{name}: {value!r} is not a whole number from {low} to {high}; correct it.")
