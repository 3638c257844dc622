"""The states of a segment, in the order of the work, and what may follow what.

The table below is the only place that says which event leads where. The engine runs it, the tests walk
it, and `docs/segment-states.md` is made from it. An event that a state does not list is illegal.

A segment is prepared (`ready`), started in two acts (`arming`, `armed`, `starting`), creeps while the lap
is watched (`creep`, `offered`), speeds up (`ramp`), polishes (`polish`, `held`), calls for water
(`wet_down`, `running_in`, `waiting`), slows (`slow_down`, or `stopping` when nobody planned it), and ends
with the lap off the glass and a look at it (`standing`, `look`, `closed`).
"""

from __future__ import annotations

from enum import StrEnum

from benchctl.models.state_table import Limit, Row


class State(StrEnum):
    """Where a segment is."""

    READY = "ready"
    ARMING = "arming"
    ARMED = "armed"
    STARTING = "starting"
    CREEP = "creep"
    OFFERED = "offered"
    RAMP = "ramp"
    POLISH = "polish"
    HELD = "held"
    WET_DOWN = "wet_down"
    RUNNING_IN = "running_in"
    WAITING = "waiting"
    SLOW_DOWN = "slow_down"
    STOPPING = "stopping"
    STANDING = "standing"
    LOOK = "look"
    CLOSED = "closed"


class On(StrEnum):
    """What can happen. The first group are a person's acts, the second the board's, the third time's."""

    ARM = "arm"
    RUN = "run"
    SPEED_UP = "speed_up"
    WETTED = "wetted"
    SLOWER = "slower"
    FASTER = "faster"
    HOLD_SLOW = "hold_slow"
    GO_ON = "go_on"
    STOP = "stop"
    LIFTED = "lifted"
    LOOKED = "looked"

    BOARD_ARMED = "board_armed"
    BOARD_RUNNING = "board_running"
    BOARD_REFUSED = "board_refused"
    BOARD_STOPPED = "board_stopped"
    LAP_TRUE = "lap_true"
    AT_STEP = "at_step"
    AT_WORK = "at_work"
    AT_REST = "at_rest"
    TRIP = "trip"
    EASE = "ease"
    WET_AND_STOP = "wet_and_stop"

    CALL_DUE = "call_due"
    TIME_UP = "time_up"
    LIMIT = "limit"


TURNING = (
    State.CREEP,
    State.OFFERED,
    State.RAMP,
    State.POLISH,
    State.HELD,
    State.WET_DOWN,
    State.RUNNING_IN,
    State.WAITING,
)
"""States in which the table is asked to turn."""

AT_WORK = (State.POLISH, State.WET_DOWN, State.RUNNING_IN)
"""States in which the speed may be trimmed by hand."""

ENDING = (State.SLOW_DOWN, State.STOPPING)
RESTING = (State.STANDING, State.LOOK, State.CLOSED)
"""States after the table has come to rest."""

S = State

LIMITS: dict[State, Limit] = {
    S.READY: Limit(4 * 3600.0, "nobody started"),
    S.ARMING: Limit(3.0, "the board did not answer"),
    S.ARMED: Limit(10.0, "armed is valid for ten seconds"),
    S.STARTING: Limit(4.0, "the board did not start"),
    S.CREEP: Limit(240.0, "the lap did not turn true"),
    S.OFFERED: Limit(120.0, "nobody let it speed up"),
    S.RAMP: Limit(180.0, "the speed was not reached"),
    S.HELD: Limit(180.0, "nobody came back"),
    S.WAITING: Limit("wait_unanswered_s", "nobody wetted the work"),
    S.SLOW_DOWN: Limit(30.0, "the table did not come to rest"),
    S.STOPPING: Limit(30.0, "the table was not seen to come to rest"),
    S.STANDING: Limit(900.0, "nobody lifted the lap"),
    S.LOOK: Limit(1800.0, "the look at the glass was put off"),
}

TABLE: dict[tuple[State, On], Row[State]] = {
    (S.READY, On.ARM): Row(S.ARMING, "ask_arm"),
    (S.READY, On.STOP): Row(S.READY, "send_stop"),
    (S.READY, On.LIMIT): Row(S.CLOSED, "give_up"),
    (S.ARMING, On.BOARD_ARMED): Row(S.ARMED, "note"),
    (S.ARMING, On.BOARD_REFUSED): Row(S.READY, "note_refusal"),
    (S.ARMING, On.STOP): Row(S.READY, "send_stop"),
    (S.ARMING, On.LIMIT): Row(S.READY, "disarm"),
    (S.ARMED, On.RUN): Row(S.STARTING, "ask_run"),
    (S.ARMED, On.STOP): Row(S.READY, "send_stop"),
    (S.ARMED, On.BOARD_STOPPED): Row(S.READY, "note_board_stop"),
    (S.ARMED, On.LIMIT): Row(S.READY, "disarm"),
    (S.STARTING, On.BOARD_RUNNING): Row(S.CREEP, "begin"),
    (S.STARTING, On.BOARD_REFUSED): Row(S.CLOSED, "close_refused"),
    (S.STARTING, On.BOARD_STOPPED): Row(S.STOPPING, "board_stopped"),
    (S.STARTING, On.STOP): Row(S.STOPPING, "stop_by_person"),
    (S.STARTING, On.LIMIT): Row(S.STOPPING, "stop_by_limit"),
    (S.CREEP, On.LAP_TRUE): Row(S.OFFERED, "offer"),
    (S.OFFERED, On.SPEED_UP): Row(S.RAMP, "next_speed"),
    (S.RAMP, On.AT_STEP): Row(S.RAMP, "next_speed"),
    (S.RAMP, On.AT_WORK): Row(S.POLISH, "note"),
    (S.POLISH, On.HOLD_SLOW): Row(S.HELD, "creep"),
    (S.HELD, On.GO_ON): Row(S.RAMP, "next_speed"),
    (S.WET_DOWN, On.WETTED): Row(S.RUNNING_IN, "answer"),
    (S.WET_DOWN, On.TIME_UP): Row(S.WAITING, "wait_slowly"),
    (S.RUNNING_IN, On.TIME_UP): Row(S.SLOW_DOWN, "stop_planned"),
    (S.WAITING, On.WETTED): Row(S.SLOW_DOWN, "answer_and_stop"),
    (S.SLOW_DOWN, On.AT_REST): Row(S.STANDING, "close"),
    (S.SLOW_DOWN, On.BOARD_STOPPED): Row(S.STOPPING, "board_stopped"),
    (S.SLOW_DOWN, On.LIMIT): Row(S.STOPPING, "stop_by_limit"),
    (S.STOPPING, On.AT_REST): Row(S.STANDING, "close"),
    (S.STOPPING, On.BOARD_STOPPED): Row(S.STOPPING, "note_board_stop"),
    (S.STOPPING, On.LIMIT): Row(S.STANDING, "close_unseen"),
    (S.STANDING, On.LIFTED): Row(S.LOOK, "lift"),
    (S.STANDING, On.LIMIT): Row(S.CLOSED, "note_limit"),
    (S.LOOK, On.LOOKED): Row(S.CLOSED, "note"),
    (S.LOOK, On.LIMIT): Row(S.CLOSED, "note_limit"),
}
for _state in TURNING:
    TABLE[_state, On.STOP] = Row(S.STOPPING, "stop_by_person")
    TABLE[_state, On.TRIP] = Row(S.STOPPING, "stop_by_guard")
    TABLE[_state, On.BOARD_STOPPED] = Row(S.STOPPING, "board_stopped")
    TABLE[_state, On.EASE] = Row(_state, "ease")
    TABLE.setdefault((_state, On.WETTED), Row(_state, "note_wetting"))
    if _state in LIMITS:
        TABLE[_state, On.LIMIT] = Row(S.STOPPING, "stop_by_limit")
for _state in (S.CREEP, S.OFFERED, S.RAMP, S.POLISH, S.HELD):
    TABLE[_state, On.CALL_DUE] = Row(S.WET_DOWN, "call_for_water")
    TABLE[_state, On.WET_AND_STOP] = Row(S.WAITING, "wet_and_stop")
TABLE[S.WET_DOWN, On.WET_AND_STOP] = Row(S.WAITING, "wet_and_stop")
TABLE[S.RUNNING_IN, On.WET_AND_STOP] = Row(S.SLOW_DOWN, "stop_wetted")
for _state in AT_WORK:
    TABLE[_state, On.SLOWER] = Row(_state, "slower")
    TABLE[_state, On.FASTER] = Row(_state, "faster")
for _state in ENDING:
    TABLE[_state, On.STOP] = Row(_state, "send_stop")
    TABLE[_state, On.TRIP] = Row(_state, "note")
    TABLE[_state, On.WETTED] = Row(_state, "note_wetting")
TABLE[S.STANDING, On.WETTED] = Row(S.STANDING, "note_wetting")
for _state in (S.STANDING, S.LOOK, S.CLOSED):
    TABLE[_state, On.STOP] = Row(_state, "send_stop")
    TABLE[_state, On.BOARD_STOPPED] = Row(_state, "note_board_stop")


def allowed(state: State) -> tuple[On, ...]:
    """The events that `state` allows, in the order of `On`."""
    return tuple(event for event in On if (state, event) in TABLE)
