"""The engine that runs the segment's table of states.

`handle(event, now_s)` follows one row of `states.TABLE`; `tick(now_s)` raises the events that are only
time's: the call for water, the end, and each state's own limit. Both give commands back and change
nothing else. `now_s` is any clock in seconds that does not run backwards.
"""

from __future__ import annotations

from collections.abc import Callable

from benchctl.errors import IllegalEvent
from benchctl.models.recipe import SegmentPlan
from benchctl.segment.commands import (
    ArmBoard,
    CloseRecord,
    Command,
    Note,
    OpenRecord,
    RunBoard,
    SetSpeed,
    StopBoard,
)
from benchctl.segment.states import LIMITS, TABLE, TURNING, On, State

TRIM_RPM = 1.0
"""How much one press of slower or faster changes the speed."""

BOARD_WAITS_LONGER_S = 3.0
"""The board's own stop after the end comes a little after the host's, which knows more."""
BOARD_WAITS_MOST_S = 180.0
EXPLAINED_BY = {"link_lost": ("watchdog_reset", "brown_out", "board_restarted")}
"""A reason for a stop, and what may be found out later on as the cause of it."""
WAIT_LEAST_S = 30.0
"""A segment cut short waits at least this long for the work to be wetted."""

_LIMIT_REASON = {
    State.STARTING: "start_unanswered",
    State.CREEP: "lap_not_true",
    State.OFFERED: "offer_unanswered",
    State.RAMP: "speed_not_reached",
    State.HELD: "hold_unanswered",
    State.WAITING: "end_unanswered",
    State.SLOW_DOWN: "rest_not_reached",
}


class SegmentEngine:
    """One segment from ready to closed."""

    def __init__(self, plan: SegmentPlan, now_s: float = 0.0) -> None:
        self.plan = plan
        self.state = State.READY
        self.entered_s = now_s
        self.run_at_s: float | None = None
        self.target_rpm = 0.0
        self.work_rpm = plan.work_rpm
        self.ceiling_rpm = plan.ceiling_rpm
        """The job's ceiling, or a lower one of board or weights once it is armed."""
        self.wet_down = "not_reached"
        self.wettings = 0
        self.last_wetted_s: float | None = None
        self.water_called_s: float | None = None
        self.water_answered_s: float | None = None
        self.cut_short: str | None = None
        """Why the segment ends before its time, once the work is wetted; None where it does not."""
        self.stop_reason: str | None = None
        self.stop_kind = "planned"
        self.outcome = "completed"
        self.rested_at_s: float | None = None
        self.stood_s: float | None = None
        self._acts: dict[str, Callable[[float, dict[str, object]], list[Command]]] = {
            name[4:]: getattr(self, name) for name in dir(self) if name.startswith("_do_")
        }

    def allows(self, event: On) -> bool:
        """Whether the present state lists `event`."""
        return (self.state, event) in TABLE

    def handle(self, event: On, now_s: float, **details: object) -> list[Command]:
        """Follow `event`. IllegalEvent names the state where the table does not list it; nothing changes."""
        row = TABLE.get((self.state, event))
        if row is None:
            raise IllegalEvent(f"a segment that is {self.state} does not allow '{event}'")
        before = self.state
        if row.to != before:
            self.state, self.entered_s = row.to, now_s
        commands = self._acts[row.act](now_s, {"event": event, "from": before, **details})
        if self.state is State.OFFERED and before is State.CREEP and not self.plan.ask_before_ramp:
            commands += self.handle(On.SPEED_UP, now_s)
        return commands

    def tick(self, now_s: float) -> list[Command]:
        """Raise what is due by time alone."""
        commands: list[Command] = []
        for event in (On.CALL_DUE, On.TIME_UP, On.LIMIT):
            if self._due(event, now_s):
                commands += self.handle(event, now_s)
        return commands

    def limit_s(self) -> float | None:
        """How long the present state may last, in seconds; None where it may last for ever."""
        limit = LIMITS.get(self.state)
        if limit is None:
            return None
        lasts_s = limit.seconds_of(self.plan)
        return max(WAIT_LEAST_S, lasts_s) if self.cut_short and self.state is State.WAITING else lasts_s

    def ends_at_s(self) -> float | None:
        """When the segment's time is up, on the clock of `now_s`; None before it runs."""
        return None if self.run_at_s is None else self.run_at_s + self.plan.length_s

    def left_s(self, now_s: float) -> float:
        """Seconds left of the segment's time, never negative."""
        ends = self.ends_at_s()
        return self.plan.length_s if ends is None else max(0.0, ends - now_s)

    def _due(self, event: On, now_s: float) -> bool:
        if not self.allows(event):
            return False
        if event is On.LIMIT:
            limit = self.limit_s()
            return limit is not None and now_s - self.entered_s >= limit
        ends = self.ends_at_s()
        early = self.plan.wet_call_s if event is On.CALL_DUE else 0.0
        return ends is not None and now_s >= ends - early

    # The acts: each named by rows of the table, each gives the commands of its row.

    def _do_note(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note(str(self.state if facts["event"] is On.AT_WORK else facts["event"]))]

    def _do_note_refusal(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note("refused", (("why", facts.get("why", "")),))]

    def _do_note_board_stop(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        reason = str(facts.get("reason", ""))
        if reason in EXPLAINED_BY.get(self.stop_reason or "", ()):
            self.stop_reason, self.stop_kind = reason, str(facts.get("kind", self.stop_kind))
        return [Note("board_stopped", (("reason", facts.get("reason", "")),))]

    def _do_note_limit(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [
            Note("limit", (("state", str(facts["from"])), ("why", LIMITS[State(str(facts["from"]))].why)))
        ]

    def _do_note_wetting(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.wettings += 1
        self.last_wetted_s = now_s
        return [Note("wetted")]

    def _do_ask_arm(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        lower = float(str(facts.get("ceiling_rpm", self.plan.ceiling_rpm)))
        self.ceiling_rpm = min(self.plan.ceiling_rpm, lower)
        return [ArmBoard(self.ceiling_rpm)]

    def _do_send_stop(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [StopBoard(planned=False, reason="person")]

    def _do_give_up(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note("not_started")]

    def _do_disarm(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        why = LIMITS[State(str(facts["from"]))].why
        return [Note("disarmed", (("why", why),)), StopBoard(planned=True, reason="person")]

    def _do_ask_run(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.target_rpm = self.plan.creep_rpm
        plan = self.plan
        calls_s = plan.length_s - plan.wet_call_s
        waits_s = min(BOARD_WAITS_MOST_S, plan.wait_unanswered_s + BOARD_WAITS_LONGER_S)
        return [OpenRecord(), RunBoard(self.target_rpm, calls_s, plan.length_s, waits_s)]

    def _do_begin(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.run_at_s = self.last_wetted_s = now_s
        return [Note("turning", (("target_rpm", self.target_rpm),))]

    def _do_close_refused(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.outcome, self.stop_reason = "refused", str(facts.get("why", "refused"))
        return [*self._do_note_refusal(now_s, facts), self._closing(rest_seen=True)]

    def _do_offer(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note("lap_true")]

    def _do_next_speed(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        step = self.plan.step_rpm
        first = step is not None and self.target_rpm < step <= self.work_rpm
        self.target_rpm = step if first and step is not None else self.work_rpm
        return [Note("ramp", (("target_rpm", self.target_rpm),)), SetSpeed(self.target_rpm)]

    def _do_creep(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.target_rpm = self.plan.creep_rpm
        return [Note("held_slow"), SetSpeed(self.target_rpm)]

    def _do_call_for_water(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.wet_down = "unanswered"
        self.water_called_s = now_s
        return [Note("wet_down_called")]

    def _do_answer(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.wet_down = "answered"
        self.water_answered_s = now_s
        self._do_note_wetting(now_s, facts)
        return [Note("wet_down_answered")]

    def _do_answer_and_stop(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [*self._do_answer(now_s, facts), *self._do_stop_planned(now_s, facts)]

    def _do_wet_and_stop(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        """End before the time: creep and call for water; the stop waits until the work is wetted."""
        self.cut_short = str(facts["reason"])
        called = [] if self.water_called_s is not None else self._do_call_for_water(now_s, facts)
        note = Note("cut_short", (("reason", self.cut_short),))
        return [note, *called, *self._do_wait_slowly(now_s, facts)]

    def _do_stop_wetted(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.cut_short = str(facts["reason"])
        return self._do_stop_planned(now_s, facts)

    def _do_wait_slowly(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.target_rpm = min(self.target_rpm, self.plan.wait_rpm)
        return [Note("waiting_for_water"), SetSpeed(self.target_rpm)]

    def _do_stop_planned(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        outcome = "completed" if self.cut_short is None else "stopped"
        return self._stop(outcome, self.cut_short, "planned", planned=True)

    def _do_stop_by_person(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        reason = str(facts.get("reason", "person"))
        return self._stop("stopped", reason, "controlled_then_off")

    def _do_stop_by_guard(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return self._stop("stopped", str(facts["reason"]), "controlled_then_off")

    def _do_stop_by_limit(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        state = State(str(facts["from"]))
        reason = self.cut_short if state is State.WAITING and self.cut_short else _LIMIT_REASON[state]
        return self._stop("stopped", reason, "controlled_then_off")

    def _do_board_stopped(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        kind, reason = str(facts.get("kind", "controlled_then_off")), str(facts["reason"])
        if reason == "planned_end":
            reason = "end_unanswered"
        return self._stop("stopped", reason, kind)

    def _do_slower(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return self._trim(-TRIM_RPM)

    def _do_faster(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return self._trim(TRIM_RPM)

    def _do_ease(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        """Go slower by itself; never faster, whatever was asked."""
        wanted = float(str(facts["rpm"]))
        self.work_rpm = max(self.plan.creep_rpm, min(self.work_rpm, wanted))
        if self.target_rpm <= self.work_rpm:
            return []
        self.target_rpm = self.work_rpm
        return [Note("eased", (("target_rpm", self.target_rpm),)), SetSpeed(self.target_rpm)]

    def _do_close(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note("at_rest"), self._closing(rest_seen=True)]

    def _do_close_unseen(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        return [Note("rest_not_seen"), self._closing(rest_seen=False)]

    def _do_lift(self, now_s: float, facts: dict[str, object]) -> list[Command]:
        self.stood_s = now_s - (now_s if self.rested_at_s is None else self.rested_at_s)
        return [Note("lifted", (("standing_s", round(self.stood_s, 3)),))]

    def _closing(self, *, rest_seen: bool) -> CloseRecord:
        self.rested_at_s = self.entered_s
        return CloseRecord(self.outcome, self.stop_reason, self.stop_kind, self.wet_down, rest_seen)

    def _stop(self, outcome: str, reason: str | None, kind: str, *, planned: bool = False) -> list[Command]:
        self.target_rpm = 0.0
        self.outcome, self.stop_kind = outcome, kind
        self.stop_reason = self.stop_reason or reason  # what cut the segment short stays its first cause
        note = Note("slow_down" if planned else "stopping", (("reason", reason),) if reason else ())
        return [note, StopBoard(planned=planned, reason=reason or "planned_end")]

    def _trim(self, by_rpm: float) -> list[Command]:
        wanted = self.target_rpm + by_rpm
        if not self.plan.creep_rpm <= wanted <= self.ceiling_rpm:
            limits = f"{self.plan.creep_rpm:g} to {self.ceiling_rpm:g} rpm"
            return [Note("refused", (("why", f"{wanted:g} rpm is outside {limits}"),))]
        self.target_rpm = self.work_rpm = wanted
        return [Note("speed_set", (("target_rpm", self.target_rpm),)), SetSpeed(self.target_rpm)]

    @property
    def water_answer_s(self) -> float | None:
        """How long the person took to answer the call for water; None while it is not answered."""
        called_s, answered_s = self.water_called_s, self.water_answered_s
        return None if called_s is None or answered_s is None else answered_s - called_s

    @property
    def turning(self) -> bool:
        """Whether the table is asked to turn."""
        return self.state in TURNING
