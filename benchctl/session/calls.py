"""What the bench calls out for at a moment, and what a short press of the pedal answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchctl.guard.words import words_for
from benchctl.segment.engine import SegmentEngine
from benchctl.segment.states import On, State
from benchctl.session.acts import Act
from benchctl.session.alarms import Standing
from benchctl.session.snapshot import Call

if TYPE_CHECKING:
    from benchctl.session.runner import Runner

POWER_NOT_OFF = "power_not_off"

_PEDAL: dict[State, Act] = {
    State.OFFERED: Act.SPEED_UP,
    State.HELD: Act.GO_ON,
    State.WET_DOWN: Act.WETTED,
    State.WAITING: Act.WETTED,
    State.STANDING: Act.LIFTED,
}


def pedal_answer(engine: SegmentEngine, alarms: Standing) -> Act | None:
    """The act that a short press means now: the answer to what is called. It never starts anything."""
    answer = _PEDAL.get(engine.state)
    if answer is None and engine.allows(On.WETTED):
        return Act.WETTED
    return answer or (Act.ACKNOWLEDGE if alarms.standing else None)


def current_call(runner: Runner, now_s: float) -> Call | None:
    """The one call that goes out now, the most pressing first; None while nothing is wanted."""
    call = _fault(runner) or _water(runner, now_s) or _end(runner) or _caution(runner, now_s)
    if call is not None and runner.at.silenced == call.pattern:
        return call._replace(silenced=True)
    if call is None:
        runner.at.silenced = None
    return call


def _fault(runner: Runner) -> Call | None:
    engine, status = runner.engine, runner.link.last_status
    if status is not None and status.reason == POWER_NOT_OFF:
        words = words_for(POWER_NOT_OFF)
        return Call("fault", words.title, words.do, None)
    if engine.stop_reason is None or engine.state not in (State.STOPPING, State.STANDING):
        return None
    words = words_for(engine.stop_reason)
    return Call("fault", words.title, words.do, None)


def _water(runner: Runner, now_s: float) -> Call | None:
    engine = runner.engine
    if engine.state is State.WET_DOWN:
        return Call(
            "wet_down", "WET THE WORK NOW", "Flood the open glass, then answer: wetted", engine.left_s(now_s)
        )
    if engine.state is State.WAITING:
        left_s = max(0.0, (engine.limit_s() or 0.0) - (now_s - engine.entered_s))
        return Call("wet_down", "WET THE WORK NOW", "Creeping; it stops unwetted at zero", left_s)
    return None


def _end(runner: Runner) -> Call | None:
    if runner.engine.state is State.STANDING:
        return Call("end", "TABLE AT REST", "Slide the lap off now, then answer: lifted", None)
    return None


def _caution(runner: Runner, now_s: float) -> Call | None:
    engine = runner.engine
    pressing = [alarm for alarm in runner.alarms.standing if alarm.priority <= 2 and not alarm.acknowledged]
    if pressing:
        return Call("caution", pressing[0].title, pressing[0].do, None)
    if engine.state is State.OFFERED:
        return Call("caution", "LAP TURNS TRUE", "Let it speed up, or stop", None)
    wetted_s = engine.last_wetted_s
    due = engine.state is State.POLISH and wetted_s is not None
    if due and wetted_s is not None and now_s - wetted_s >= engine.plan.rewet_every_s:
        return Call("caution", "WETTING IS DUE", "Wet the open glass, then answer: wetted", None)
    return None
