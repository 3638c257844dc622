"""The bench's alarms, each change of which is told to the log; and which conditions hold at a moment."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from benchctl.guard.alarm import Alarm, Change
from benchctl.guard.alarm_rows import ALARMS, OVER_ALL
from benchctl.guard.alarms import AlarmBook
from benchctl.guard.sight import Finding
from benchctl.models.readings import Status
from benchctl.segment.states import State
from benchctl.session.bench_state import Bench

REST_RPM = 0.05
ROOM_EVERY_S = 30.0

_WORK: dict[State, str] = {
    State.WET_DOWN: "wet_down",
    State.WAITING: "wet_down_late",
    State.OFFERED: "lap_true",
}
REST_UNSEEN = "rest_unseen"
ANSWERED_BY_WATER = ("lap_jerky", "lap_slowing", "lap_drying")


class Alarms:
    """An alarm book whose changes are told."""

    def __init__(self, tell: Callable[[Change], None]) -> None:
        self.book = AlarmBook()
        self._tell = tell

    def tell(self, changes: Iterable[Change]) -> None:
        """Hand changes to the log."""
        for change in changes:
            self._tell(change)

    def trip(self, reason: str, now_s: float, detail: str = "", *, explains: bool = False) -> None:
        """The table is being stopped for `reason`."""
        self.tell(self.book.trip(reason, now_s, detail, explains=explains))

    @property
    def top(self) -> tuple[Alarm, ...]:
        """One line for each cause, worst and oldest first; nothing that is shelved or only called."""
        return tuple(alarm for alarm in self._listed() if alarm.cause is None and not alarm.shelved_until_s)

    @property
    def folded(self) -> tuple[Alarm, ...]:
        """The consequences, each with the name of its cause."""
        return tuple(alarm for alarm in self._listed() if alarm.cause is not None)

    @property
    def shelved(self) -> tuple[Alarm, ...]:
        """What a person has put aside for a time."""
        return tuple(alarm for alarm in self._listed() if alarm.shelved_until_s)

    @property
    def ask_after_lap(self) -> bool:
        """Whether the lap's sensor is silent, so that a person's word on the lap is wanted."""
        asking = ("lap_sensor_dead", "lap_watched")
        return any(alarm.name in asking and alarm.active for alarm in self.book.alarms())

    def _listed(self) -> list[Alarm]:
        return [alarm for alarm in self.book.alarms() if alarm.listed]


class Conditions:
    """Which alarm conditions hold now, from the segment, the link, the disk and the guard's findings."""

    def __init__(self) -> None:
        self._room_s = -ROOM_EVERY_S
        self._room: str | None = None
        self._rest_seen = False

    def holding(self, bench: Bench, findings: Iterable[Finding], now_s: float) -> dict[str, str]:
        """Name and detail of each."""
        found = {finding.name: finding.detail for finding in findings if finding.name in ALARMS}
        found |= dict.fromkeys(self._work(bench, now_s), "")
        found |= self._resting(bench, now_s)
        found |= _stops(bench)
        return found

    def _work(self, bench: Bench, now_s: float) -> list[str]:
        """What the work itself asks of the person now."""
        engine = bench.engine
        if engine.state in _WORK:
            return [_WORK[engine.state]]
        if engine.state is State.STANDING:
            return self._standing(bench)
        self._rest_seen = False
        wetted_s = engine.last_wetted_s
        due = engine.state is State.POLISH and wetted_s is not None
        if due and wetted_s is not None and now_s - wetted_s >= engine.plan.rewet_every_s:
            return ["wetting_due"]
        return []

    def _standing(self, bench: Bench) -> list[str]:
        """Rest is called once it was seen; a table that is nudged by hand afterwards changes nothing. With
        power that did not switch off nobody is called to the table."""
        if bench.alarms.book.stopped_for(OVER_ALL):
            return []
        self._rest_seen = self._rest_seen or (not bench.link.lost and at_rest(bench.link.last_status))
        return ["lap_standing" if self._rest_seen else REST_UNSEEN]

    def _resting(self, bench: Bench, now_s: float) -> dict[str, str]:
        """What is looked at only while the table rests."""
        if bench.engine.state is not State.READY:
            return {}
        found = {"board_silent": ""} if bench.link.lost else {}
        if bench.facts.port_warning:
            found["port_as_root"] = bench.facts.port_warning
        if now_s - self._room_s >= ROOM_EVERY_S:
            self._room_s, self._room = now_s, bench.journal.room()
        if self._room is not None:
            found["disk_low"] = self._room
        return found


def _stops(bench: Bench) -> dict[str, str]:
    """The stops whose cause is still there, or for which the table has not come to rest yet."""
    return {
        alarm.name: alarm.detail
        for alarm in bench.alarms.book.alarms()
        if alarm.call == "fault"
        and ((alarm.active and not at_rest(bench.link.last_status)) or _cause(bench, alarm.name))
    }


def at_rest(status: Status | None) -> bool:
    """Whether the board says that the table rests without power; not where it has said nothing."""
    return status is not None and status.table_rpm <= REST_RPM and not status.enabled


def _cause(bench: Bench, reason: str) -> bool:
    """Whether the cause of a stop can be seen still to be there."""
    status, link = bench.link.last_status, bench.link
    if reason in ("link_lost", "board_silent"):
        return link.lost
    if reason in ("disk_full", "record_not_kept"):
        return not bench.books.kept
    if status is None:
        return False
    return (reason == "estop_open" and status.estop_open) or (
        reason == "pedal_stuck" and status.pedal_pressed
    )
