"""What the watcher sums up over a segment, for the record."""

from __future__ import annotations

from dataclasses import dataclass, field

from benchctl.lapwatch.verdict import LapState

BIN = 0.002
"""Width of the ratio histogram's bins: the 5 and 95 % points are good to half of it."""
BINS = 600


@dataclass(frozen=True, slots=True)
class WatchSummary:
    """Shares are of the time since the segment began; ratios are one-turn means, weighted by mirror angle."""

    state_share: dict[str, float]
    state_counts: dict[str, int]
    ratio_mean: float | None
    ratio_p05: float | None
    ratio_p95: float | None
    severity_worst: float | None
    edges_seen: int
    edges_repaired: int
    load_mean_percent: float | None


@dataclass(slots=True)
class Tally:
    """Adds up in constant memory."""

    _seconds: dict[str, float] = field(default_factory=dict)
    _counts: dict[str, int] = field(default_factory=dict)
    _histogram: list[float] = field(default_factory=lambda: [0.0] * BINS)
    _ratio_sum: float = 0.0
    _weight: float = 0.0
    _worst: float | None = None
    _load_sum: float = 0.0
    _load_count: int = 0
    _seen: int = 0
    _repaired: int = 0

    def dwell(self, state: LapState, seconds: float) -> None:
        """Time spent in a state."""
        self._seconds[state] = self._seconds.get(state, 0.0) + max(0.0, seconds)

    def enter(self, state: LapState) -> None:
        """A state began."""
        self._counts[state] = self._counts.get(state, 0) + 1

    def ratio(self, ratio: float, mirror_turns: float) -> None:
        """A one-turn mean that held over `mirror_turns`."""
        self._ratio_sum += ratio * mirror_turns
        self._weight += mirror_turns
        self._histogram[min(BINS - 1, int(ratio / BIN))] += mirror_turns

    def severity(self, severity: float) -> None:
        """A severity index of the running lap."""
        if self._worst is None or severity > self._worst:
            self._worst = severity

    def edges(self, seen: int, repaired: int) -> None:
        """Edges that came, and targets or edges that had to be repaired or thrown out."""
        self._seen += seen
        self._repaired += repaired

    def load(self, load_percent: float) -> None:
        """A load report while the table turned."""
        self._load_sum += load_percent
        self._load_count += 1

    def result(self) -> WatchSummary:
        """The sums so far."""
        total = sum(self._seconds.values())
        return WatchSummary(
            state_share={state: s / total for state, s in self._seconds.items()} if total > 0.0 else {},
            state_counts=dict(self._counts),
            ratio_mean=self._ratio_sum / self._weight if self._weight > 0.0 else None,
            ratio_p05=self._quantile(0.05),
            ratio_p95=self._quantile(0.95),
            severity_worst=self._worst,
            edges_seen=self._seen,
            edges_repaired=self._repaired,
            load_mean_percent=self._load_sum / self._load_count if self._load_count else None,
        )

    def _quantile(self, share: float) -> float | None:
        if self._weight <= 0.0:
            return None
        below = 0.0
        for index, weight in enumerate(self._histogram):
            below += weight
            if below >= share * self._weight:
                return (index + 0.5) * BIN
        return BINS * BIN
