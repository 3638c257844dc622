"""Snapshots as the bench makes them, one for each moment of a segment, and a bench that plays a list of them.

The player is no mock of a part of ours: it is a recording, shown one after the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from benchctl.guard.words import words_for
from benchctl.models.segment_record import SegmentRecord
from benchctl.models.weights import Piece
from benchctl.press.states import On as PressOn
from benchctl.press.states import State as PressState
from benchctl.press.view import PressView
from benchctl.segment.states import TURNING, On, State, allowed
from benchctl.session.acts import Act, Done
from benchctl.session.snapshot import Alarm, Call, Column, LapView, Line, Snapshot
from benchctl.session.words import STATE_WORDS

PLANNED_S = 960.0
PIECES = (*[Piece(mass_kg=2.5)] * 4, *[Piece(mass_kg=2.0)] * 2)
_LEFT_S = {
    State.CREEP: 951.0, State.OFFERED: 930.0, State.RAMP: 915.0, State.POLISH: 612.4, State.HELD: 598.0,
    State.WET_DOWN: 41.2, State.RUNNING_IN: 33.5, State.WAITING: 0.0, State.SLOW_DOWN: 0.0,
    State.STOPPING: 403.0, State.STANDING: 0.0, State.LOOK: 0.0, State.CLOSED: 0.0,
}  # fmt: skip
_NEXT = {
    State.READY: ("arm, then run", None), State.ARMED: ("run, or it disarms", 8.2),
    State.CREEP: ("speeding up after 2 true lap turns", None), State.POLISH: ("call for water", 552.4),
    State.WET_DOWN: ("creep and wait, if not wetted", 41.2), State.RUNNING_IN: ("slow down and stop", 33.5),
    State.WAITING: ("stop without wetting", 71.0), State.STANDING: ("look at the glass", None),
    State.ARMING: ("the board's answer", None), State.STARTING: ("creep", None),
    State.OFFERED: ("call for water", 870.0), State.RAMP: ("call for water", 855.0),
    State.HELD: ("call for water", 538.0), State.SLOW_DOWN: ("table at rest", None),
    State.STOPPING: ("table at rest", None), State.LOOK: ("next mark", None),
    State.CLOSED: ("next segment", None),
}  # fmt: skip
_CALLS = {
    State.WET_DOWN: Call("wet_down", "WET THE WORK NOW", "Flood the open glass, then answer: wetted", 41.2),
    State.WAITING: Call("wet_down", "WET THE WORK NOW", "Creeping; it stops unwetted at zero", 71.0),
    State.STANDING: Call("end", "TABLE AT REST", "Slide the lap off now, then answer: lifted", None),
    State.OFFERED: Call("caution", "LAP TURNS TRUE", "Let it speed up, or stop", None),
}


def acts(state: State) -> frozenset[Act]:
    """The acts that the table of states allows, and those that are always there."""
    events = {event.value for event in allowed(state)}
    found = {Act.STOP, Act.NOTE} | {act for act in Act if act.value in events and act.value in set(On)}
    if state in (State.LOOK, State.CLOSED):
        found.add(Act.NEXT)
    return frozenset(found)


def chart(columns: int = 150) -> tuple[Column, ...]:
    """Strips of a quiet segment whose lap slows a little before it is wetted."""
    ratio = [0.92 + 0.015 * math.sin(i / 3.0) - 0.05 * (i % 60) / 60.0 for i in range(columns)]
    load = [41.0 + 6.0 * (i % 60) / 60.0 + math.sin(i) for i in range(columns)]
    return tuple(Column(4.5 * i, ratio[i], load[i]) for i in range(columns))


def shot(state: State, now_s: float = 100.0, **changes: Any) -> Snapshot:
    """The bench in `state`, on the demo job, all well."""
    turning = state in TURNING or state in (State.SLOW_DOWN, State.STOPPING)
    slow = state in (State.CREEP, State.OFFERED, State.HELD, State.WAITING)
    rpm = (6.0 if slow else 26.0) if turning else 0.0
    what, in_s = _NEXT[state]
    words = STATE_WORDS[state]
    base = Snapshot(
        now_s=now_s,
        state=state,
        allowed=acts(state),
        headline=words.headline,
        do_now=words.do_now,
        next_what=what,
        next_in_s=in_s,
        left_s=_LEFT_S.get(state, PLANNED_S),
        planned_s=PLANNED_S,
        elapsed_s=PLANNED_S - _LEFT_S.get(state, PLANNED_S),
        turning=turning,
        link="connected",
        board_state="running" if turning else "disarmed",
        board_id="0123456789abcdef",
        target_rpm=rpm,
        set_rpm=rpm,
        table_rpm=rpm - 0.1 if turning else 0.0,
        load_percent=43.0 if turning else 0.0,
        lap=lap("steady", "Spins true", 0.91, rpm)
        if turning
        else lap("waiting", "Lap not turning yet", None, 0),
        call=_CALLS.get(state),
        since_wetted_s=143.0 if turning else None,
        time_to_dry_s=265.0,
        table_turns=152.0,
        useful_turns=147.0,
        standing_s=12.4 if state is State.STANDING else None,
        mark=7,
        work_rpm=26.0,
        ceiling_rpm=45.0,
        simulated=True,
        mirror="Bench demo 460",
        load_n=189.3,
        post_offset_m=0.128,
        lines=(Line(0.0, "Armed"), Line(1.4, "Table told to turn"), Line(61.0, "Polishing"))
        if turning
        else (),
        chart=chart() if turning else (),
        record=record() if state in (State.LOOK, State.CLOSED) else None,
    )
    return replace(base, **changes)


def lap(state: str, words: str, ratio: float | None, table_rpm: float, reason: str = "") -> LapView:
    """What the watcher says."""
    return LapView(state, words, reason, ratio, None if ratio is None else ratio * table_rpm, 0.92, 0.05)


def record(**changes: Any) -> SegmentRecord:
    """The record of a completed segment."""
    return SegmentRecord(
        outcome="completed", stop_kind="planned", polishing_s=958.2, planned_s=PLANNED_S, table_turns=402.0,
        lap_turns=370.0, useful_turns=394.0, spin_ratio_mean=0.92, wet_down="answered", wettings=4,
        standing_s=21.0, work_rpm=26.0, load_n=189.3, post_offset_m=0.128,
    ).model_copy(update=changes)  # fmt: skip


def stopped(reason: str, state: State = State.STOPPING, **changes: Any) -> Snapshot:
    """The bench in a stop for `reason`."""
    words = words_for(reason)
    call = Call("fault", words.title, words.do, None)
    return shot(state, stop_reason=reason, call=call, do_now=words.do, **changes)


def caution(name: str, title: str, do: str, **changes: Any) -> Snapshot:
    """Polishing with one alarm that wants an act."""
    alarm = Alarm(name, 2, title, do, 5.0, True, False)
    return shot(State.POLISH, call=Call("caution", title, do, None), alarms=(alarm,), **changes)


def with_alarms() -> Snapshot:
    """A stop for a stalled lap, with a consequence and a piece of advice."""
    words = words_for("lap_stalled")
    cause = Alarm("lap_stalled", 1, words.title, words.do, 78.0, True, False, detail="no target for 2.1 s")
    drag = Alarm("lap_drying", 2, "Drag is rising", "Wet it now", 71.0, False, False, cause="lap_stalled")
    advice = Alarm("disk_low", 3, "Little room where the log is kept", "Free some", 12.0, True, False)
    allowed = acts(State.STOPPING) | {Act.ACKNOWLEDGE, Act.SILENCE, Act.SHELVE}
    return stopped("lap_stalled", alarms=(cause, advice), folded=(drag,), allowed=allowed)


SHIFT = Call("caution", "SHIFT THE LAP", "Slide it 62 mm, turn it a quarter, then answer: shifted", None)


def pressing(**changes: Any) -> PressView:
    """A cold press that waits for the lap to be shifted."""
    view = PressView(
        PressState.SHIFT, 0.0, 0.0, "shift and turn", 0.05, 0.06, 14.0, 1200.0, 95.0, 0.0, 20.0,
        frozenset({PressOn.SHIFTED, PressOn.WETTED, PressOn.END}),
    )  # fmt: skip
    return view._replace(**changes)


class Player:
    """A bench that shows the snapshots it was given, one after the other, and keeps what it was told."""

    def __init__(self, shots: Sequence[Snapshot], *, pace: float | None = 16.0) -> None:
        self.shots = list(shots)
        self.at = 0
        self.done: list[Done] = []
        self.answers = 0
        self.closed = 0
        self.crash: BaseException | None = None
        self._pace = pace
        self.live = True
        """While true, the bench's clock goes on with every look; else it stands, as after a hang."""
        self._looks = 0

    @property
    def pace(self) -> float | None:
        return self._pace

    @property
    def pace_set(self) -> float:
        return self._pace or 1.0

    @property
    def acts(self) -> list[Act]:
        """The acts it was told, in order."""
        return [done.act for done in self.done]

    def snapshot(self) -> Snapshot:
        self._looks += self.live
        return replace(self.shots[self.at], now_s=100.0 + 0.001 * self._looks)

    def show(self, snapshot: Snapshot) -> None:
        """Play one more."""
        self.shots.append(snapshot)
        self.at = len(self.shots) - 1

    def do(self, done: Done) -> None:
        self.done.append(done)

    def answer(self) -> None:
        self.answers += 1

    def set_pace(self, pace: float) -> None:
        self._pace = pace

    def stop_now(self) -> None:
        self.done.append(Done(Act.STOP))

    def stop_and_close(self) -> None:
        self.closed += 1
