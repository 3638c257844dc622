"""The lap watcher: pulses and reports in, a verdict out. It reads no clock, no port and no file."""

from __future__ import annotations

import math

from benchctl.lapwatch.absence import Absence, bound, due_turns, slows, unread_turns
from benchctl.lapwatch.acquire import Acquire, level_and_scatter
from benchctl.lapwatch.edges import Bursts, Edge
from benchctl.lapwatch.history import History
from benchctl.lapwatch.inputs import Pauses, check_edge, check_report
from benchctl.lapwatch.levels import Levels
from benchctl.lapwatch.mirror_angle import MirrorAngle
from benchctl.lapwatch.place import Place
from benchctl.lapwatch.placement import Spans
from benchctl.lapwatch.refine import BELOW_SEVERITY, Refine
from benchctl.lapwatch.regain import Regain
from benchctl.lapwatch.settings import WatchSettings, remembering
from benchctl.lapwatch.signs import JUDGED, Signs
from benchctl.lapwatch.spin import once_a_turn, severity, turn_ratio, variation
from benchctl.lapwatch.states import Judge
from benchctl.lapwatch.summary import Tally, WatchSummary
from benchctl.lapwatch.track import Track
from benchctl.lapwatch.verdict import LapState, Verdict
from benchctl.lapwatch.witness import Witness
from benchctl.lapwatch.words import UNDECIDED, WORDS, reason

TURNING_RPM = 1.0
ACCEPT_TURNS = 20.0
"""Calm lap turns at a new level before the person may take it as normal."""
NEAR_MIRROR = 0.88
SILENT = ("stalled", "no_signal")
USUAL_GAPS_PER_HOUR = 7000.0


class LapWatch:
    """Watches one lap through one pickup."""

    def __init__(self, settings: WatchSettings) -> None:
        self.settings = settings
        count = settings.targets_per_turn
        self._mirror = MirrorAngle(settings.table_edges_per_turn)
        self._levels = Levels(settings.reference_ratio, USUAL_GAPS_PER_HOUR)
        self._witness = Witness(settings, self._levels.habits)
        self._absence = Absence(self._levels, self._witness, USUAL_GAPS_PER_HOUR)
        kept = Spans(settings.placement) if settings.placement and count > 1 else None
        self._acquire = Acquire(count, self._levels.habits, kept)
        self._signs = Signs(self._levels, count)
        self._refine = Refine()
        self._bursts = Bursts()
        self._pauses = Pauses()
        self._judge = Judge()
        self._tally = Tally()
        self._history = History()
        self._place = Place(self._acquire, self._signs)
        self._pulse_s = self._now_s = -1.0
        self._regain = Regain(self._levels, count)
        self._ratio: float | None = None
        self._severity: float | None = None

    # Events

    def pulse(self, at_s: float) -> None:
        """A target on the lap passed its pickup."""
        check_edge("pulse", at_s)
        if self._pauses.ended(at_s, report=False):
            self._lose()
        mirror, track = self._mirror, self._place.track
        if mirror.at_s < 0.0 or mirror.turns_per_s * 60.0 < TURNING_RPM:
            return
        turns, state, habits = mirror.at(at_s), self._judge.state, self._levels.habits
        if habits.usual is not None:
            habits.seconds_per_turn = 1.0 / (mirror.turns_per_s * math.exp(habits.usual))
        kind = self._bursts.sort(at_s, habits.seconds_per_turn / self.settings.targets_per_turn)
        if kind is Edge.BURST:
            self._burst(mirror.at(self._bursts.began_s))
        elif kind is Edge.BOUNCE:
            self._tally.edges(1, 1)
        elif track is None:
            self._tally.edges(1, 0)
            self._acquire.add(turns)
            self._gather(at_s)
        elif track.pulse(turns, self._witness.of_gap):
            self._signs.raw.append(turns)
            self._tally.edges(1, track.best.gaps - 1)
            if state == "settling":
                self._settle(at_s, turns, track)
            elif state in SILENT:
                self._again(at_s, turns, track)
            else:
                self._follow(at_s, track)
            self._pulse_s = at_s
        else:
            self._tally.edges(1, 1)

    def _burst(self, since: float) -> None:
        """Edges since a mirror angle were a burst of interference."""
        self._levels.habits.met_burst()
        self._tally.edges(1, 1)
        self._place.retract(since)
        if self._place.track is not None:
            self._place.due = due_turns(self._place.track)

    def table_pulse(self, at_s: float) -> None:
        """A target on the table passed its sensor."""
        check_edge("table pulse", at_s)
        self._mirror.edge(at_s)

    def status(self, at_s: float, set_rpm: float, table_rpm: float, load_percent: float | None) -> None:
        """The board's regular report: speed asked for, measured speed (rpm), motor load (percent or None)."""
        check_report(at_s, set_rpm, table_rpm, load_percent)
        elapsed = at_s - self._now_s
        if elapsed <= 0.0:
            return
        state, mirror, witness = self._judge.state, self._mirror, self._witness
        if self._now_s >= 0.0:
            self._tally.dwell(state, elapsed)
        self._now_s = at_s
        paused = self._pauses.ended(at_s, report=True)
        mirror.report(at_s, table_rpm)
        witness.report(at_s, set_rpm, table_rpm, load_percent, state)
        if table_rpm < TURNING_RPM:
            if state != "waiting":
                self._rest(at_s)
            return
        if paused:
            self._lose()
        if load_percent is not None:
            self._tally.load(load_percent)
        if witness.gone and (self._spin_now() or 0.0) > NEAR_MIRROR:
            self._see({"load_gone"}, at_s)
        if mirror.turns > self._place.due:
            self._overdue(at_s)

    def _gather(self, at_s: float) -> None:
        """One pulse of a lap that cannot be read yet."""
        acquire, state = self._acquire, self._judge.state
        self._witness.load.target_passed(False)
        if state == "waiting":
            self._see({"pulses"}, at_s)
        self._place.due = acquire.due_turns()
        track = acquire.attempt() if acquire.due() else None
        if track is None:
            return
        self._place.lay(track)
        self._place.due = due_turns(track)
        if self._judge.state == "settling":
            self._settle(at_s, track.best.turns, track, fresh=True)

    def _again(self, at_s: float, turns: float, track: Track) -> None:
        """A pulse after the lap had been called stopped or its pickup silent."""
        acquire, regain = self._acquire, self._regain
        acquire.add(turns)
        self._place.due = due_turns(track)
        if regain.came(track, turns):
            self._see({"came"}, at_s)
        if self._judge.state not in SILENT:
            return
        if regain.misses(track.best):
            self._see({"misses"}, at_s)
        if not regain.turning(track.best, len(acquire.raw)):
            return
        self._see({"turning"}, at_s)
        again = acquire.attempt() if acquire.kept is not None else None
        if again is not None:
            self._place.lay(again)
            track = again
        self._settle(at_s, turns, track, fresh=True)

    def _lose(self) -> None:
        """After a pause in the record: where the lap stands is not known, what it usually does is."""
        if self._judge.state == "waiting":
            return
        usual = self._levels.habits.usual
        self._place.forget(unread_turns(self._mirror.turns, usual, self.settings.targets_per_turn))
        self._regain.lost()
        self._witness.load.target_passed(False)

    def _settle(self, at_s: float, turns: float, track: Track, fresh: bool = False) -> None:
        """One pulse of a lap that is settling: learn its spacing until it has been calm for long enough."""
        acquire = self._acquire
        if not fresh:
            acquire.add(turns)
            again = acquire.better(track)
            if again is not None:
                self._place.lay(again)
                track = again
            acquire.mark_calm(track.best)
        best = track.best
        self._severity = severity(best)
        self._ratio = turn_ratio(best, track.spans.count) or self._ratio
        self._witness.load.target_passed(best.gaps == 1)
        self._place.due = due_turns(track)
        off = self._levels.off_reference(self._ratio) if self._judge.before == "waiting" else None
        if self._severity is None or not acquire.calm_enough(best, off):
            return
        self._levels.settle(*level_and_scatter(best, track.spans.count))
        self._steady_begins(track)
        self._see({"true"}, at_s)

    def _steady_begins(self, track: Track) -> None:
        self._acquire.kept = track.spans
        self._refine.accept(track.spans)
        for reading in track.readings:
            reading.calm()
        self._absence.pace(self._levels.pace(self._mirror.turns_per_s, self.settings.targets_per_turn))
        self._signs.begin(track.best.lap)

    def _follow(self, at_s: float, track: Track) -> None:
        """One pulse of a lap that has settled once."""
        best, alone = track.best, len(track.likely()) == 1
        load = self._witness.of_gap() if self._signs.doubts(best) else None
        self._witness.load.target_passed(alone and best.gaps == 1)
        self._place.due = due_turns(track)
        self._severity = now = severity(best)
        ratio = turn_ratio(best, track.spans.count)
        if now is None or ratio is None:
            return
        self._ratio = ratio
        width = best.lap - best.recent[-2][1]
        self._tally.ratio(ratio, width / ratio)
        self._tally.severity(now)
        self._history.add(at_s, ratio)
        turn_log = math.log(ratio)
        signs = self._signs.seen(track, self._judge.state, turn_log, now, load)
        if self._witness.gone:
            signs.discard("level")
        if signs:
            self._see(signs, at_s)
        if alone and self._judge.state in JUDGED:
            self._levels.learn(
                best, track.spans.noise2[best.target - 1], turn_log, width, at_s - self._pulse_s
            )
            if self._judge.state == "steady" and best.target == 0 and now < BELOW_SEVERITY:
                self._refine.turn(track)
                self._acquire.kept = track.spans

    def _overdue(self, at_s: float) -> None:
        """A report came while a target is overdue."""
        track, state = self._place.track, self._judge.state
        if state in ("stalled", "waiting"):
            return
        turns, usual = self._mirror.turns, self._levels.habits.usual
        if track is None:
            rough = self._acquire.rough_log_ratio() if usual is None else usual
            sign = self._absence.unread_sign(rough, state)
            if sign is not None:
                self._see({sign}, at_s)
            return
        sign = self._absence.sign(track, state, turns)
        if sign is None and state in JUDGED and slows(track, turns, self._levels, self._witness.of_gap()):
            sign = "drop"
        if sign is not None:
            self._see({sign}, at_s)

    def _rest(self, at_s: float) -> None:
        self._see({"resting"}, at_s)
        self._place.forget(math.inf)
        self._ratio = self._severity = None

    def _see(self, signs: set[str], at_s: float) -> None:
        """Let the judge follow the table of states."""
        lap = self._place.lap
        if not self._judge.see(signs, at_s, self._place.all_turns):
            return
        state = self._judge.state
        self._tally.enter(state)
        self._signs.begin(lap)
        if state in SILENT:
            self._acquire.restart()
            self._regain.silent(lap)
        elif state == "settling" and self._place.track is not None:
            self._acquire.calm_from = lap

    def _spin_now(self) -> float | None:
        track = self._place.track
        if track is None or len(track.best.recent) < 2:
            return None
        return min(track.best.recent[-1][2], bound(track, self._mirror.turns))

    @property
    def state(self) -> LapState:
        """The state alone, for those who look often."""
        return self._judge.state

    @property
    def verdict(self) -> Verdict:
        """What the watcher says now."""
        judge, track, now = self._judge, self._place.track, self._spin_now()
        reference, load = self._levels.reference, self._witness.load.ratio
        best, share = (None, 0.0) if track is None else (track.best, track.best.share)
        return Verdict(
            state=judge.state,
            since_s=judge.since_s,
            spin_ratio=self._ratio,
            spin_now=now,
            lap_rpm=None if now is None else now * self._mirror.turns_per_s * 60.0,
            reference_ratio=None if reference is None else math.exp(reference),
            severity=self._severity,
            cv=None if best is None else variation(best),
            once_per_turn=None if best is None else once_a_turn(best, self.settings.targets_per_turn),
            load_ratio=load,
            weak_share=share,
            words=UNDECIDED if judge.state == "stalled" and self._absence.undecided else WORDS[judge.state],
            reason=reason(
                judge.state, self._ratio, self._history.ago(self._now_s), self._severity, load, share
            ),
        )

    @property
    def can_accept_level(self) -> bool:
        """Whether the lap has turned calmly for 20 turns at a level that is not its usual one."""
        track, off = self._place.track, self._judge.state in ("slowing", "fast")
        calm = track is not None and self._signs.calm_turns(track.best) >= ACCEPT_TURNS
        return off and calm and not self._witness.gone

    def accept_level(self) -> bool:
        """Take the present level as normal, because the person says so; False while it cannot be."""
        if not self.can_accept_level or self._ratio is None:
            return False
        self._levels.accept(math.log(self._ratio))
        self._witness.load.accept()
        self._see({"accepted"}, self._now_s)
        return True

    def summary(self) -> WatchSummary:
        """Sums since the segment began."""
        return self._tally.result()

    def begin_segment(self) -> None:
        """Begin the sums anew; what was learned of the lap stays."""
        self._tally = Tally()

    def memory(self) -> dict[str, object]:
        """What a later segment of the same set-up may be told: give it to `LapWatch.restored`."""
        kept, reference = self._acquire.kept, self._levels.reference
        return {
            "placement": None if kept is None else list(kept.widths),
            "reference_ratio": None if reference is None else math.exp(reference),
        }

    @classmethod
    def restored(cls, settings: WatchSettings, memory: dict[str, object]) -> LapWatch:
        """A watcher that begins with what an earlier one of the same set-up learned."""
        return cls(remembering(settings, memory))
