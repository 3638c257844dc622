"""The lap watcher: pulses and reports in, a verdict out. It reads no clock, no port and no file."""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from benchctl.errors import BadInput
from benchctl.lapwatch.mirror_angle import MirrorAngle
from benchctl.lapwatch.settings import WatchSettings
from benchctl.lapwatch.summary import Tally, WatchSummary
from benchctl.lapwatch.verdict import LapState, Verdict
from benchctl.lapwatch.words import WORDS

TURNING_RPM = 1.0
FASTEST_RATIO = 1.15


class LapWatch:
    """Watches one lap through one pickup."""

    def __init__(self, settings: WatchSettings) -> None:
        self.settings = settings
        self._mirror = MirrorAngle(settings.table_edges_per_turn)
        self._tally = Tally()
        self._state: LapState = "waiting"
        self._since_s = 0.0
        self._now_s = 0.0
        self._pulses: deque[float] = deque(maxlen=2 * settings.targets_per_turn + 2)
        self._good_turns = 0.0
        self._reference = settings.reference_ratio
        self._ratio: float | None = None
        self._severity: float | None = None
        self._load = 0.0
        self._load_base = 0.0
        self._load_before = 0.0

    def pulse(self, at_s: float) -> None:
        """A target on the lap passed its pickup."""
        self._check_time(at_s)
        turns = self._mirror.at(at_s)
        n = self.settings.targets_per_turn
        if self._pulses and turns - self._pulses[-1] < 0.25 / n / FASTEST_RATIO:
            self._tally.edges(1, 1)
            return
        self._tally.edges(1, 0)
        self._pulses.append(turns)
        self._load_before = self._load
        if len(self._pulses) > n:
            self._measure(n)
        if self._state == "waiting":
            self._to("settling", at_s)
        elif self._state == "settling" and self._good_turns >= 5.0:
            self._to("steady", at_s)
        elif self._state in ("stalled", "no_signal") and self._good_turns >= 1.5:
            self._to("settling", at_s)

    def table_pulse(self, at_s: float) -> None:
        """A target on the table passed its sensor."""
        self._check_time(at_s)
        self._mirror.edge(at_s)

    def status(self, at_s: float, set_rpm: float, table_rpm: float, load_percent: float) -> None:
        """The board's regular report: speed asked for, measured speed (rpm), motor load (percent)."""
        self._check_time(at_s)
        if not (0.0 <= table_rpm < 1000.0 and 0.0 <= set_rpm < 1000.0 and -1000.0 < load_percent < 1000.0):
            raise BadInput(f"status at {at_s:g} s: speed or load is not a number in range; check the sensor.")
        self._tally.dwell(self._state, at_s - self._now_s if self._now_s else 0.0)
        self._now_s = at_s
        self._mirror.report(at_s, table_rpm)
        self._load += 0.2 * (load_percent - self._load)
        if table_rpm < TURNING_RPM:
            self._pulses.clear()
            self._good_turns = 0.0
            self._to("waiting", at_s)
            return
        self._tally.load(load_percent)
        if self._state == "steady":
            self._load_base += 0.005 * (self._load - self._load_base)
        if self._pulses and self._state in ("settling", "steady"):
            self._miss(at_s)

    def _measure(self, n: int) -> None:
        pulses = self._pulses
        turn = pulses[-1] - pulses[-1 - n]
        self._ratio = 1.0 / turn
        if len(pulses) > 2 * n:
            sums = [pulses[-1 - i] - pulses[-1 - i - n] for i in range(n + 1)]
            self._severity = (max(sums) - min(sums)) / (max(sums) + min(sums))
            self._good_turns = self._good_turns + 1.0 / n if self._severity < 0.22 else 0.0
        else:
            self._good_turns += 1.0 / n
        if self._state == "steady":
            if self._reference is None:
                self._reference = self._ratio
            self._reference += (self._ratio - self._reference) * 0.02 / n
            self._tally.ratio(self._ratio, turn / n)

    def _miss(self, at_s: float) -> None:
        waited = self._mirror.at(at_s) - self._pulses[-1]
        usual = (self._ratio or self._reference or 0.7) * self.settings.targets_per_turn
        if waited * usual > 5.0 and waited > 0.3:
            self._good_turns = 0.0
            self._to("stalled", at_s)

    def _check_time(self, at_s: float) -> None:
        if not 0.0 <= at_s < 1e12:
            raise BadInput(f"at_s: {at_s!r} is not a time in seconds; give the board's time.")

    def _to(self, state: LapState, at_s: float) -> None:
        if state != self._state:
            if state == "steady" and self._load_base == 0.0:
                self._load_base = self._load
            self._state, self._since_s = state, at_s
            self._tally.enter(state)

    @property
    def verdict(self) -> Verdict:
        """What the watcher says now."""
        now = self._ratio
        if now is not None and self._pulses:
            waited = self._mirror.turns - self._pulses[-1]
            now = min(now, 1.6 / (self.settings.targets_per_turn * waited)) if waited > 0.0 else now
        return Verdict(
            state=self._state,
            since_s=self._since_s,
            spin_ratio=self._ratio,
            spin_now=now,
            lap_rpm=None if now is None else now * self._mirror.turns_per_s * 60.0,
            reference_ratio=self._reference,
            severity=self._severity,
            load_ratio=self._load / self._load_base if self._load_base > 0.0 else None,
            words=WORDS[self._state],
        )

    def summary(self) -> WatchSummary:
        """Sums since the segment began."""
        return self._tally.result()

    def begin_segment(self) -> None:
        """Begin the sums anew; what was learned of the lap stays."""
        self._tally = Tally()

    def memory(self) -> dict[str, object]:
        """What a later segment of the same set-up may be told: give it to `LapWatch.restored`."""
        return {"placement": None, "reference_ratio": self._reference}

    @classmethod
    def restored(cls, settings: WatchSettings, memory: dict[str, object]) -> LapWatch:
        """A watcher that begins with what an earlier one of the same set-up learned."""
        reference = memory.get("reference_ratio")
        return cls(replace(settings, reference_ratio=reference if isinstance(reference, float) else None))
