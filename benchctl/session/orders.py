"""Carries out what the segment's engine asks for: orders to the board, records to the logbook."""

from __future__ import annotations

from collections.abc import Callable

from benchctl.lapwatch.replay import head_of
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
from benchctl.segment.states import On, State
from benchctl.session.bench_state import Bench
from benchctl.session.calls import current_call

STOPS_TOLD = ("stopping", "board_stopped", "slow_down")
"""Notes that name a stop; with a reason they raise its alarm."""


class Orders:
    """Commands out. `closed` is told each segment's end."""

    def __init__(self, bench: Bench, closed: Callable[[CloseRecord], None]) -> None:
        self._bench = bench
        self._closed = closed
        self._waiting_run: RunBoard | None = None
        self._called: str | None = None

    def obey(self, commands: list[Command], now_s: float) -> None:
        """Carry out commands in their order."""
        bench = self._bench
        for command in commands:
            if isinstance(command, Note):
                self._note(command, now_s)
            elif isinstance(command, ArmBoard):
                bench.link.arm(now_s, command.ceiling_rpm)
            elif isinstance(command, OpenRecord):
                bench.books.open(now_s, head_of(bench.watch))
            elif isinstance(command, RunBoard):
                self._waiting_run = command
            elif isinstance(command, SetSpeed):
                bench.at.speed_changed_s = now_s
                bench.approach.restart()
                bench.link.set_speed(now_s, command.rpm)
            elif isinstance(command, StopBoard):
                self._waiting_run = None
                bench.link.stop(now_s, command.planned, command.reason)
            elif isinstance(command, CloseRecord):
                self._closed(command)
        if commands and bench.engine.state is State.LOOK:
            bench.books.lifted(bench.engine.stood_s)

    def _note(self, note: Note, now_s: float) -> None:
        bench, details = self._bench, dict(note.details)
        bench.note(now_s, note.event, **details)
        if note.event in STOPS_TOLD and details.get("reason"):
            reason = str(details["reason"])
            explains = note.event == "board_stopped" and reason == bench.engine.stop_reason
            bench.alarms.trip(reason, now_s, bench.at.stop_detail, explains=explains)

    def start_when_recorded(self, now_s: float) -> None:
        """The table may turn only once the start of the segment is on disk."""
        bench = self._bench
        if self._waiting_run is None:
            return
        if bench.books.may_start():
            run, self._waiting_run = self._waiting_run, None
            bench.at.speed_changed_s = now_s
            bench.link.run(now_s, run.rpm, run.call_after_s, run.end_after_s, run.wait_s)
        elif bench.books.start_failed(now_s):
            self._waiting_run = None
            bench.event(On.BOARD_REFUSED, now_s, why="record_not_kept")

    def call(self, now_s: float) -> None:
        """Let buzzer and lamp call what is called now."""
        call = current_call(self._bench, now_s)
        pattern = None if call is None or call.silenced else call.pattern
        if pattern != self._called:
            self._called = pattern
            self._bench.link.call(now_s, pattern or "quiet")
