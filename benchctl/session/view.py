"""Makes the snapshot that the faces show from a runner, as of its last step."""

from __future__ import annotations

from collections import deque
from typing import Any, NamedTuple

from benchctl.guard.alarm_rows import ADVICE, ALARMS, OVER_ALL
from benchctl.guard.words import words_for
from benchctl.models.readings import Status
from benchctl.segment.states import TURNING, On, State
from benchctl.session.acts import Act
from benchctl.session.alarms import REST_UNSEEN
from benchctl.session.bench_state import Bench
from benchctl.session.calls import current_call
from benchctl.session.readying import RESTING
from benchctl.session.snapshot import Column, LapView, Snapshot
from benchctl.session.words import STATE_WORDS

STALE_S = 0.5
"""A value older than this is not shown."""

TURNING_RPM = 0.05
COLUMN_S = 2.0
"""Least time one column of the strip charts stands for; longer for long segments."""
COLUMNS = 240

_EVENTS = {act.value for act in Act} & {event.value for event in On}


class Next(NamedTuple):
    """What comes next, and in how many seconds; None where that waits for a person or a sensor."""

    what: str
    in_s: float | None


class Chart:
    """The strip charts' columns: one every few seconds while the table is asked to turn."""

    def __init__(self, planned_s: float) -> None:
        self.every_s = max(COLUMN_S, (planned_s + 120.0) / COLUMNS)
        self.columns: tuple[Column, ...] = ()
        self._kept: deque[Column] = deque(maxlen=COLUMNS)
        self._due_s = 0.0

    def see(self, at_s: float, ratio: float | None, load: float | None) -> None:
        """Add a column if one is due; with a time before the last one's another segment begins."""
        if self._kept and at_s < self._kept[-1].at_s:
            self._kept.clear()
        if self._kept and at_s < self._due_s:
            return
        self._due_s = at_s + self.every_s
        self._kept.append(Column(at_s, ratio, load))
        self.columns = tuple(self._kept)


def fresh(bench: Bench) -> Status | None:
    """The last status while it is fresh enough to show."""
    link = bench.link
    seen_s = link.last_status_at_s
    if link.last_status is None or seen_s is None or link.lost:
        return None
    return link.last_status if bench.at.now_s - seen_s <= STALE_S else None


def allowed_acts(bench: Bench) -> frozenset[Act]:
    """The acts that would do something now."""
    engine, alarms = bench.engine, bench.alarms
    acts = {Act.NOTE, Act.STOP} | {Act(e.value) for e in On if e.value in _EVENTS and engine.allows(e)}
    standing = alarms.book.alarms()
    call = current_call(bench, bench.at.now_s)
    asked = engine.turning and alarms.ask_after_lap
    extra = {
        Act.ACKNOWLEDGE: any(not alarm.acknowledged for alarm in standing),
        Act.SILENCE: call is not None and not call.silenced,
        Act.WATCHING: asked,
        Act.LAP_STANDS: asked,
        Act.TAKE_SLOWER: bench.at.offered_rpm is not None,
        Act.ACCEPT_LEVEL: engine.turning and bench.watch.can_accept_level,
        Act.RESET: alarms.book.latched and alarms.book.why_not_reset() is None,
        Act.SHELVE: any(alarm.priority == ADVICE for alarm in alarms.top),
        Act.UNSHELVE: bool(alarms.shelved),
        Act.NEXT: engine.state in (State.CLOSED, State.LOOK),
        Act.PRESS: bench.readying.pressing or engine.state in RESTING,
        Act.MARK: bench.readying.marks is not None and engine.state in RESTING,
    }
    if bench.readying.pressing:
        acts -= {Act.ARM}
    return frozenset(acts | {act for act, does_something in extra.items() if does_something})


def whats_next(bench: Bench) -> Next:
    """What comes after the present state."""
    engine, now_s = bench.engine, bench.at.now_s
    left_s = engine.left_s(now_s)
    limit_s = engine.limit_s()
    limit_in = None if limit_s is None else max(0.0, limit_s - (now_s - engine.entered_s))
    if engine.state in (State.RAMP, State.POLISH, State.HELD, State.CREEP, State.OFFERED):
        if engine.state is State.CREEP:
            turns = max(0, 2 - bench.approach.true_turns)
            return Next(f"speeding up after {turns} true lap turn{'s' * (turns != 1)}", None)
        return Next("call for water", max(0.0, left_s - engine.plan.wet_call_s))
    simple = {
        State.READY: Next("arm, then run", None),
        State.ARMING: Next("the board's answer", None),
        State.ARMED: Next("run, or it disarms", limit_in),
        State.STARTING: Next("creep", None),
        State.WET_DOWN: Next("creep and wait, if not wetted", left_s),
        State.RUNNING_IN: Next("slow down and stop", left_s),
        State.WAITING: Next("stop without wetting", limit_in),
        State.SLOW_DOWN: Next("table at rest", None),
        State.STOPPING: Next("table at rest", None),
        State.STANDING: Next("look at the glass", None),
        State.LOOK: Next("next mark", None),
        State.CLOSED: Next("next segment", None),
    }
    return simple[engine.state]


def lap_view(bench: Bench) -> LapView:
    """What the watcher says, for the screen."""
    verdict = bench.verdict
    expected = verdict.reference_ratio or bench.facts.predicted_ratio
    live = bench.engine.state in TURNING and fresh(bench) is not None
    return LapView(
        state=verdict.state,
        words=verdict.words,
        reason=verdict.reason,
        spin_ratio=verdict.spin_ratio if live else None,
        lap_rpm=verdict.lap_rpm if live else None,
        expected_ratio=expected,
        severity=verdict.severity if live else None,
    )


def snapshot(bench: Bench, chart: Chart) -> Snapshot:
    """The bench as of the runner's last step."""
    engine, now_s = bench.engine, bench.at.now_s
    status, lap, ahead = fresh(bench), lap_view(bench), whats_next(bench)
    running_s = 0.0 if engine.run_at_s is None else now_s - engine.run_at_s
    if engine.turning:
        chart.see(running_s, lap.spin_ratio, None if status is None else status.load_percent)
    return Snapshot(
        now_s=now_s,
        state=engine.state,
        allowed=allowed_acts(bench),
        headline=STATE_WORDS[engine.state].headline,
        do_now=what_to_do(bench),
        next_what=ahead.what,
        next_in_s=ahead.in_s,
        left_s=engine.left_s(now_s),
        planned_s=engine.plan.length_s,
        elapsed_s=running_s,
        lap=lap,
        call=current_call(bench, now_s),
        alarms=bench.alarms.top,
        folded=bench.alarms.folded,
        shelved=bench.alarms.shelved,
        offered_rpm=bench.at.offered_rpm,
        refusal=bench.at.refusal,
        stop_detail=bench.at.stop_detail,
        look_at="" if engine.stop_reason is None else words_for(engine.stop_reason).look,
        since_wetted_s=None if engine.last_wetted_s is None else now_s - engine.last_wetted_s,
        standing_s=standing_s(bench),
        rest_seen=rest_seen(bench),
        record_kept=bench.books.kept,
        record=bench.books.record,
        lines=bench.journal.shown,
        chart=chart.columns,
        **_machine(bench, status),
        **_segment(bench),
        **_setup(bench),
    )


def what_to_do(bench: Bench) -> str:
    """The one thing the person should do now."""
    engine = bench.engine
    if bench.alarms.book.stopped_for(OVER_ALL):
        return words_for(OVER_ALL).do
    if not rest_seen(bench):
        return ALARMS[REST_UNSEEN].do
    if engine.state in (State.STOPPING, State.STANDING) and engine.stop_reason is not None:
        return words_for(engine.stop_reason).do
    return STATE_WORDS[engine.state].do_now


def rest_seen(bench: Bench) -> bool:
    """False where the lap stands on a table that was not seen to come to rest, or that still has power."""
    book = bench.alarms.book
    return not (book.stands(REST_UNSEEN) or book.stopped_for(OVER_ALL))


def standing_s(bench: Bench) -> float | None:
    """How long the lap has stood on the resting glass; None while it does not."""
    rested_s = bench.engine.rested_at_s
    return (
        bench.at.now_s - rested_s if bench.engine.state is State.STANDING and rested_s is not None else None
    )


def _machine(bench: Bench, status: Status | None) -> dict[str, Any]:
    link = bench.link
    return {
        "turning": status is not None and status.table_rpm > TURNING_RPM,
        "link": "lost" if link.lost else "connected" if link.last_status is not None else "not_connected",
        "board_state": "unknown" if status is None else status.board_state,
        "board_id": "" if link.board is None else link.board.board_id,
        "target_rpm": bench.engine.target_rpm,
        "set_rpm": None if status is None else status.set_rpm,
        "table_rpm": None if status is None else status.table_rpm,
        "load_percent": None if status is None else status.load_percent,
    }


def _segment(bench: Bench) -> dict[str, Any]:
    engine, tally = bench.engine, bench.tally
    return {
        "table_turns": tally.table_turns,
        "lap_turns": tally.lap_turns,
        "useful_turns": tally.useful_turns,
        "stop_reason": engine.stop_reason,
        "wet_down": engine.wet_down,
        "work_rpm": engine.work_rpm,
        "ceiling_rpm": engine.ceiling_rpm,
    }


def _setup(bench: Bench) -> dict[str, Any]:
    facts = bench.facts
    return {
        "time_to_dry_s": facts.time_to_dry_s,
        "mark": facts.mark,
        "marks": bench.readying.marks,
        "press": bench.readying.view(bench.at.now_s),
        "pressed": bench.readying.pressed,
        "simulated": facts.simulated,
        "mirror": facts.job.mirror.name,
        "load_n": facts.job.load_n,
        "post_offset_m": facts.job.setup.post_offset_m,
        "weights_captured": facts.job.setup.weights_captured,
        "recovered": facts.recovered,
    }
