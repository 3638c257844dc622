"""What the bench calls out for at a moment, and what a short press of the pedal answers."""

from __future__ import annotations

from benchctl.guard.alarm import Alarm
from benchctl.guard.alarm_rows import OVER_ALL
from benchctl.segment.states import ENDING, TURNING, On, State
from benchctl.session.acts import Act
from benchctl.session.bench_state import Bench
from benchctl.session.snapshot import Call

_ORDER = ("fault", "wet_down", "end", "caution")
_PEDAL: dict[State, Act] = {
    State.OFFERED: Act.SPEED_UP,
    State.HELD: Act.GO_ON,
    State.WET_DOWN: Act.WETTED,
    State.WAITING: Act.WETTED,
    State.STANDING: Act.LIFTED,
}
_LAP_ON_GLASS = (*TURNING, *ENDING, State.STANDING)


def pedal_answer(bench: Bench) -> Act | None:
    """The act that a short press means now: the answer to what is called. It never starts anything."""
    if bench.readying.pressing:
        return Act.PRESS
    answer = _PEDAL.get(bench.engine.state)
    if answer is None and bench.engine.allows(On.WETTED):
        return Act.WETTED
    return answer or (Act.ACKNOWLEDGE if bench.alarms.top else None)


def current_call(bench: Bench, now_s: float) -> Call | None:
    """The one call that goes out now, the most pressing first; None while nothing is wanted."""
    alarm, press = calling(bench), bench.readying.call(now_s)
    if alarm is None or (press is not None and alarm.call == "caution"):
        return press
    quiet = alarm.silenced or alarm.acknowledged
    return Call(alarm.call or "", alarm.title, alarm.do, _due_in_s(bench, alarm.name, now_s), quiet)


def calling(bench: Bench) -> Alarm | None:
    """The alarm that calls: what has been acknowledged gives way, and a caution then calls no more."""
    candidates = [alarm for alarm in bench.alarms.book.alarms() if _calls(bench, alarm)]
    return min(candidates, key=_pressing, default=None)


def _calls(bench: Bench, alarm: Alarm) -> bool:
    if alarm.call is None or alarm.cause is not None or alarm.shelved_until_s is not None:
        return False
    if alarm.call == "fault":
        lasting = bench.engine.state in _LAP_ON_GLASS or alarm.name == OVER_ALL
        return alarm.active or (lasting and not alarm.acknowledged)
    return alarm.active and not (alarm.call == "caution" and alarm.acknowledged)


def _pressing(alarm: Alarm) -> tuple[bool, int, bool, int, float]:
    return (
        alarm.acknowledged,
        _ORDER.index(alarm.call or "caution"),
        not alarm.listed,
        alarm.priority,
        alarm.since_s,
    )


def _due_in_s(bench: Bench, name: str, now_s: float) -> float | None:
    engine = bench.engine
    if name == "wet_down":
        return engine.left_s(now_s)
    if name == "wet_down_late":
        return max(0.0, (engine.limit_s() or 0.0) - (now_s - engine.entered_s))
    return None
