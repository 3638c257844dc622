"""The bare table turned in a check, then STOP: what the sensors count, how the load moves, when it rests."""

from __future__ import annotations

from collections.abc import Generator
from math import pi
from statistics import fmean

from benchctl.link.checkup_lines import STOP_MARGIN_S, Line, Stopped, Turned, ended_line, stop_line
from benchctl.link.refusal_words import refusal_sentence
from benchctl.link.seen import Seen
from benchctl.models.readings import Armed, Running

CREEP_RPM = 5.0
MEASURE_S = 15.0
CEILING_RPM = 10.0
"""Armed with this ceiling, or with the speed asked for where that is higher."""
SETTLE_S = 2.0
AT_SPEED_S = 30.0
ENOUGH_S = 5.0
"""Stopped sooner than this, a run says nothing of sensors and load."""
ARMED_S = 0.6
ANSWER_S = 1.5
REST_PATIENCE_S = 8.0
QUIET_AFTER_S = 2.0
SPARE_S = 45.0
"""The board itself ends the run this long after the time it is measured for."""


class CreepTrial:
    """Arms, turns for a while, stops. `lines` and `turned` say what came of it; None: it did not get so far.

    `enough` may be set at any time: then it stops.
    """

    def __init__(self, seen: Seen, rpm: float = CREEP_RPM, measure_s: float = MEASURE_S) -> None:
        self.seen = seen
        self.rpm = rpm
        self.measure_s = measure_s
        self.enough = False
        self.turned: Turned | None = None
        self.lines: list[Line] = []

    def run(self) -> Generator[None]:
        """The sequence; however it is left, STOP has been sent if the table may have been turning."""
        try:
            yield from self._creep()
        finally:
            self.abandon()

    def abandon(self) -> None:
        """STOP, if the table may turn."""
        if self.seen.driving:
            self.seen.driving = False
            self.seen.link.stop(self.seen.now_s, False, "person")

    def _creep(self) -> Generator[None]:
        seen, link = self.seen, self.seen.link
        link.arm(seen.now_s, max(CEILING_RPM, self.rpm))
        if not (yield from self._accepted("arm", Armed)):
            return
        yield from seen.pause(ARMED_S)
        seen.driving = True
        longest_s = self.measure_s + SPARE_S
        link.run(seen.now_s, self.rpm, longest_s, longest_s, 0.0)
        if not (yield from self._accepted("run", Running)):
            return
        yield from seen.until(self._at_speed, AT_SPEED_S)
        yield from seen.pause(SETTLE_S, self._going)
        yield from self._measure()
        if self._running():
            yield from self._stop()
        else:
            self._fell_out()
            self.abandon()
            yield from seen.until(self._at_rest, REST_PATIENCE_S)

    def _accepted(self, what: str, kind: type[Armed] | type[Running]) -> Generator[None, None, bool]:
        """Wait for the board's answer; False, with a line that says why, where it refuses."""
        self.seen.answers.clear()
        yield from self.seen.until(lambda: bool(self.seen.answers), ANSWER_S)
        if any(isinstance(answer, kind) for answer in self.seen.answers):
            return True
        why = refusal_sentence(self.seen.refusal(what))
        self.lines.append(Line("stop function", "WRONG", f"could not be tried: {why}"))
        return False

    def _measure(self) -> Generator[None]:
        seen = self.seen
        begun_s, laps = seen.board_s(), len(seen.lap.stamps)
        seen.driven_percent.clear()
        yield from seen.pause(self.measure_s, self._going)
        idle = fmean(seen.idle_percent) if seen.idle_percent else 0.0
        driven = fmean(seen.driven_percent) if seen.driven_percent else idle
        rate = seen.table.rate_per_s(begun_s)
        short, lap_edges = seen.board_s() - begun_s < ENOUGH_S, len(seen.lap.stamps) - laps
        self.turned = Turned(self.rpm, rate, lap_edges, driven, idle, short, self._stopped_for())

    def _stop(self) -> Generator[None]:
        seen, settings = self.seen, self.seen.link.settings
        stop_s = seen.board_s()
        self.abandon()
        off_s: float | None = None
        until_s = seen.now_s + REST_PATIENCE_S
        while seen.now_s < until_s:
            yield
            status = seen.link.last_status
            if status is None or status.at_s <= stop_s or status.enabled:
                continue
            off_s = status.at_s - stop_s if off_s is None else off_s
            if status.table_rpm == 0.0:
                break
        yield from seen.pause(QUIET_AFTER_S)
        last_s = max(0.0, seen.table.stamps[-1] - stop_s) if seen.table.stamps else 0.0
        if settings is not None:
            ramp_s = self.rpm * 2.0 * pi / 60.0 / (settings.fault_stop_mrad_s2 / 1000.0)
            stopped = Stopped(last_s, off_s, ramp_s + STOP_MARGIN_S)
            self.lines.append(stop_line(stopped, settings.table_edges_per_turn, self.rpm))

    def _stopped_for(self) -> str:
        """Why the board runs no more; empty while it does, or where it is not heard."""
        status = self.seen.link.last_status
        if status is None or self.seen.link.lost or self._running():
            return ""
        return status.reason or ""

    def _fell_out(self) -> None:
        reason = self._stopped_for()
        lost = Line("stop function", "WRONG", "not tried: the link was lost; see to that first")
        self.lines.append(ended_line(reason) if reason else lost)

    def _running(self) -> bool:
        status = self.seen.link.last_status
        return status is not None and status.board_state == "running" and not self.seen.link.lost

    def _at_rest(self) -> bool:
        """Whether nothing is driven any more, or nothing more will be heard."""
        status, link = self.seen.link.last_status, self.seen.link
        return status is None or link.lost or not (status.enabled or status.table_rpm > 0.0)

    def _going(self) -> bool:
        return self._running() and not self.enough

    def _at_speed(self) -> bool:
        status = self.seen.link.last_status
        if status is None:
            return self.enough
        there = status.set_rpm >= self.rpm - 0.01
        return self.enough or there or status.board_state in ("slowing", "tripped")
