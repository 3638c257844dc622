"""Takes what the board says: status to the watcher and the sums, answers to the segment's engine."""

from __future__ import annotations

from contextlib import suppress

from benchctl.errors import BadInput
from benchctl.guard.alarm_rows import HOST_ASKED
from benchctl.link.refusal_words import refusal_sentence
from benchctl.models.readings import (
    Armed,
    CaptureDamage,
    Hello,
    LapPulse,
    Lost,
    PedalPress,
    Reading,
    Refused,
    Running,
    Status,
    TablePulse,
)
from benchctl.segment.engine import EXPLAINED_BY
from benchctl.segment.states import ENDING, LIMITS, RESTING, On, State
from benchctl.session.acting import Acting
from benchctl.session.acts import Done
from benchctl.session.alarms import at_rest
from benchctl.session.bench_state import Bench
from benchctl.session.calls import pedal_answer

REST_S = 1.0
AWAITED = {State.ARMING: "arm", State.STARTING: "run"}
"""The order whose answer a state of the segment waits for."""
RESTARTS = {"watchdog": "watchdog_reset", "brown_out": "brown_out"}
"""What a board that restarted gives as the cause, as a reason for the stop."""


class Listening:
    """The readings of one bench, taken one by one."""

    def __init__(self, bench: Bench, acting: Acting) -> None:
        self._bench = bench
        self._acting = acting
        self._still_since_s: float | None = None
        self._boot_count: int | None = None
        self._told_stop = ""
        self.damaged = self.reports = 0
        """Damaged stretches and status reports since they were last taken."""
        self.damaged_in_segment = 0

    def next_segment(self) -> None:
        """Nothing has stopped the new segment yet."""
        self._told_stop = ""
        self.damaged_in_segment = 0

    def take_counts(self) -> tuple[int, int]:
        """Damaged stretches and reports since the last call."""
        counts, self.damaged, self.reports = (self.damaged, self.reports), 0, 0
        return counts

    def take(self, reading: Reading, now_s: float) -> None:
        """One reading."""
        bench = self._bench
        if isinstance(reading, Status):
            self._take_status(reading, now_s)
        elif isinstance(reading, LapPulse | TablePulse):
            self._take_pulse(reading)
        elif isinstance(reading, Armed):
            bench.event(On.BOARD_ARMED, now_s)
        elif isinstance(reading, Running):
            bench.event(On.BOARD_RUNNING, now_s)
        elif isinstance(reading, Refused):
            self._take_refusal(reading, now_s)
        elif isinstance(reading, PedalPress):
            self._take_pedal(reading)
        elif isinstance(reading, Hello):
            self._take_hello(reading, now_s)
        elif isinstance(reading, CaptureDamage):
            self.damaged += reading.frames
            self.damaged_in_segment += reading.frames
        elif isinstance(reading, Lost):
            bench.note(now_s, "link_lost", why=reading.why)
            self.board_stopped(now_s, "link_lost", "controlled_then_off")

    def _take_pulse(self, pulse: LapPulse | TablePulse) -> None:
        """A pulse for the watcher; one with an impossible time is a fault of the link, and is left out."""
        with suppress(BadInput):
            if isinstance(pulse, LapPulse):
                self._bench.watch.pulse(pulse.at_s)
            else:
                self._bench.watch.table_pulse(pulse.at_s)

    def _take_status(self, status: Status, now_s: float) -> None:
        bench, engine = self._bench, self._bench.engine
        self.reports += 1
        before = bench.verdict.state
        bench.watch.status(status.at_s, status.set_rpm, status.table_rpm, status.load_percent)
        bench.verdict = verdict = bench.watch.verdict
        if engine.turning or engine.state in ENDING:
            bench.tally.see(status, verdict)
            if verdict.state != before:
                bench.note(now_s, "lap_state", state=verdict.state)
        if status.board_state == "tripped" or (engine.turning and status.board_state == "disarmed"):
            self.board_stopped(now_s, status.reason or "board_restarted", status.stop_kind)
        elif status.board_state == "slowing" and engine.turning and status.reason:
            self.board_stopped(now_s, status.reason, status.stop_kind)
        elif status.board_state == "disarmed" and engine.state is State.ARMED:
            bench.note(now_s, "disarmed", why=status.reason or LIMITS[State.ARMED].why)
            bench.event(On.STOP, now_s)
        if status.board_state == "tripped":
            self._tripped(status, now_s)
        else:
            self._acting.board_has_reset(now_s)
        self._rest(status, now_s)

    def _tripped(self, status: Status, now_s: float) -> None:
        """A fault the board holds stands as an alarm, also one from before this program began."""
        reason = status.reason or "host_fault"
        if self._bench.engine.stop_reason is None or reason not in HOST_ASKED:
            self._bench.alarms.trip(reason, now_s)

    def _rest(self, status: Status, now_s: float) -> None:
        if not at_rest(status):
            self._still_since_s = None
            return
        self._still_since_s = status.at_s if self._still_since_s is None else self._still_since_s
        if status.at_s - self._still_since_s >= REST_S and self._bench.engine.state in ENDING:
            self._bench.event(On.AT_REST, now_s)

    def _take_refusal(self, refused: Refused, now_s: float) -> None:
        """What the board refuses stands as a sentence; to arm or run, it is an answer to the segment too.

        No answer is none: what was asked for may have been done all the same, so it is taken back by STOP.
        """
        bench = self._bench
        bench.at.refusal = f"{refused.what}: {refusal_sentence(refused.why)}"
        if refused.what == "reset":
            self._acting.reset_asked = False
        if refused.what != AWAITED.get(bench.engine.state):
            bench.note(now_s, "refused", what=refused.what, why=refused.why)
        elif refused.why == "no_answer":
            bench.event(On.LIMIT, now_s)
        else:
            bench.event(On.BOARD_REFUSED, now_s, why=refused.why)

    def _take_pedal(self, press: PedalPress) -> None:
        answer = None if press.held else pedal_answer(self._bench)
        if answer is not None:
            self._bench.do(Done(answer, "answer"))

    def _take_hello(self, hello: Hello, now_s: float) -> None:
        if self._boot_count is not None and hello.boot_count != self._boot_count:
            self._bench.note(now_s, "board_restarted", cause=hello.reset_cause)
            reason = RESTARTS.get(hello.reset_cause, "board_restarted")
            self.board_stopped(now_s, reason, "power_off")
        self._boot_count = hello.boot_count

    def board_stopped(self, now_s: float, reason: str, kind: str | None) -> None:
        """The board stopped, or is not there any more: told to the engine once for each reason."""
        engine = self._bench.engine
        if reason in (self._told_stop, engine.stop_reason):
            return
        if engine.state is State.STOPPING and reason not in EXPLAINED_BY.get(engine.stop_reason or "", ()):
            return
        if engine.stop_reason is not None and reason in HOST_ASKED:
            return  # the board tells back what this program asked for
        if engine.state in (State.SLOW_DOWN, *RESTING) and reason == "planned_end":
            return
        self._told_stop = reason
        status = self._bench.link.last_status
        if engine.stop_reason is None and status is not None:
            table, load = status.table_rpm, status.load_percent
            hung = "" if self._bench.at.face_ok else "; the screen did not answer"
            self._bench.at.stop_detail = f"table at {table:.0f} rpm, load {load:.0f} %{hung}"
        self._bench.event(On.BOARD_STOPPED, now_s, reason=reason, kind=kind or "controlled_then_off")
