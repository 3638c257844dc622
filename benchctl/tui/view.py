"""What a page is drawn from: the snapshots, the size, and what the screen itself knows."""

from __future__ import annotations

from dataclasses import dataclass

from benchctl.session.snapshot import Snapshot
from benchctl.units import METRIC


@dataclass(frozen=True, slots=True)
class View:
    """One moment of the screen. `slow` is a snapshot renewed less often, for figures and charts."""

    shot: Snapshot
    slow: Snapshot
    width: int
    height: int
    """Rows of the page alone, without the bar above and the two rows below."""
    pace: float | None = None
    blink: bool = False
    """Every other half second; true also where nothing may flash."""
    stale: bool = False
    """The bench loop itself has fallen silent."""
    units: str = METRIC
