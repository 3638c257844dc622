"""The few words that stand in block letters: what to do now, with the key that answers. Pure data.

Each fits eighty columns in block letters. The longer sentence of the same state stands below it.
"""

from __future__ import annotations

from benchctl.segment.states import State
from benchctl.session.acts import Act
from benchctl.session.snapshot import Snapshot
from benchctl.session.words import STATE_WORDS
from benchctl.tui.paint import pressing

DO_SIGN: dict[State, str] = {
    State.READY: "ARM: KEY A",
    State.ARMING: "WAIT",
    State.ARMED: "RUN: KEY R",
    State.STARTING: "HANDS CLEAR",
    State.CREEP: "WATCH THE LAP",
    State.OFFERED: "SPEED UP: KEY S",
    State.RAMP: "HANDS CLEAR",
    State.POLISH: "KEEP IT WET",
    State.HELD: "WET, THEN KEY G",
    State.WET_DOWN: "WET, THEN KEY W",
    State.RUNNING_IN: "BE READY",
    State.WAITING: "WET, THEN KEY W",
    State.SLOW_DOWN: "HANDS CLEAR",
    State.STOPPING: "HANDS CLEAR",
    State.STANDING: "LIFT, THEN KEY L",
    State.LOOK: "WIPE AND LOOK",
    State.CLOSED: "NEXT: KEY N",
}

REASON_SIGN: dict[str, str] = {
    "lap_grabbed": "DO NOT PULL UP",
    "lap_off": "STAY BACK",
    "lap_off_post": "STAY BACK",
    "overspeed": "STAY BACK",
    "rest_not_reached": "STAY BACK",
    "pedal_stuck": "FREE THE PEDAL",
    "start_unanswered": "CHECK THE BOARD",
    "settings_damaged": "CHECK THE BOARD",
    "record_not_kept": "FREE THE DISK",
    "power_not_off": "CUT THE POWER",
    "dry_lap": "FLOOD IT FIRST",
    "end_unanswered": "FLOOD IT FIRST",
}
"""What to do first after a stop for these reasons; after all others, the edge of the lap is wetted."""

ALARM_SIGN: dict[str, str] = {
    "lap_jerky": "WET, THEN KEY W",
    "lap_slowing": "WET, THEN KEY W",
    "lap_drying": "WET, THEN KEY W",
    "lap_fast": "LOOK AT POST",
    "lap_off": "STAY BACK",
    "lap_stalled": "WET THE EDGE NOW",
    "lap_sensor_dead": "TURNS? I OR Z",
    "record_not_kept": "FREE THE DISK",
}
"""What to do first for an alarm that stands while the table turns."""

NARROW: dict[str, str] = {
    "WATCH THE LAP": "WATCH LAP",
    "SPEED UP: KEY S": "SPEED: KEY S",
    "WET, THEN KEY G": "WET: KEY G",
    "WET, THEN KEY W": "WET: KEY W",
    "LIFT, THEN KEY L": "LIFT: KEY L",
    "WIPE AND LOOK": "WIPE, LOOK",
    "WET THE EDGE NOW": "WET EDGE",
    "DO NOT PULL UP": "NO PULLING",
    "FLOOD IT FIRST": "FLOOD IT",
    "CUT THE POWER": "CUT POWER",
    "LOOK AT IT NOW": "LOOK NOW",
    "LAP TURNS TRUE": "LAP TRUE",
    "LOOK AT POST": "SEE POST",
    "FREE THE DISK": "FREE DISK",
    "FREE THE PEDAL": "FREE PEDAL",
    "CHECK THE BOARD": "SEE BOARD",
    "FIND THE CAUSE": "FIND CAUSE",
    "SPEEDING UP": "SPEEDING",
    "WET THE WORK": "WET NOW",
    "WET THE WORK NOW": "WET NOW",
    "WETTING IS DUE": "WET NOW",
    "WATER RUNS IN": "WATER IN",
    "SLOWING DOWN": "SLOWING",
    "STANDING ON GLASS": "STANDING",
    "LOOK AT THE GLASS": "LOOK",
    "SEGMENT DONE": "DONE",
    "SHIFT THE LAP": "SHIFT LAP",
    "PRESS IS DONE": "PRESS DONE",
}
"""What is too wide for sixty columns, in fewer letters."""

LIFT_AFTER_S = 8.0
"""After a stop for a fault: so long it is wetted, then lifted. Judgement."""
WET_EDGE = "WET THE EDGE NOW"
RESETS = (
    ("SEEN? KEY K", "Held until somebody has seen it. That starts nothing."),
    ("RESET: KEY X", "The cause is gone: let it go. That starts nothing."),
    ("FIND THE CAUSE", "Held while its cause stands. 0 lists the alarms."),
)
"""The way out of a held stop: seen, reset, and what holds it up; for the eye from afar and close by."""
NO_WORD = "NO WORD"
NO_WORD_DO = "LOOK AT IT NOW"
NO_WORD_SENTENCE = "Nothing comes from the bench; the board stops by itself. Look at the table."

KEY_OF: dict[Act, tuple[str, str]] = {
    Act.RUN: ("R", "run"),
    Act.ARM: ("A", "arm"),
    Act.WETTED: ("W", "wetted"),
    Act.LIFTED: ("L", "lifted"),
    Act.SPEED_UP: ("S", "speed up"),
    Act.GO_ON: ("G", "go on"),
    Act.ACKNOWLEDGE: ("K", "seen"),
    Act.RESET: ("X", "reset"),
    Act.WATCHING: ("I", "it turns"),
    Act.LAP_STANDS: ("Z", "it stands"),
    Act.TAKE_SLOWER: ("V", "take slower"),
    Act.ACCEPT_LEVEL: ("F", "fine so"),
    Act.NEXT: ("N", "next segment"),
    Act.HOLD_SLOW: ("H", "hold slow"),
    Act.SLOWER: ("-", "slower"),
    Act.FASTER: ("+", "faster"),
    Act.SILENCE: ("M", "mute"),
    Act.SHELVE: ("B", "put aside"),
    Act.UNSHELVE: ("Y", "bring back"),
    Act.PRESS: ("C", "cold press"),
    Act.MARK: ("O", "other mark"),
    Act.NOTE: ("T", "note"),
}
"""Key and name of each act, most wanted first. STOP is not among them: it is Space and Escape, always."""

ONLY_ASKED = frozenset(
    {Act.WATCHING, Act.LAP_STANDS, Act.TAKE_SLOWER, Act.ACCEPT_LEVEL, Act.SHELVE, Act.UNSHELVE}
)
"""Acts whose keys mean nothing at all until they are asked for."""

ACT_OF_KEY: dict[str, Act] = {key.lower(): act for act, (key, _) in KEY_OF.items()} | {"=": Act.FASTER}


def stays(shot: Snapshot) -> bool:
    """Whether the lap has stood on the glass long enough after a stop that lifting it comes before all."""
    long = shot.standing_s is not None and shot.standing_s > LIFT_AFTER_S
    return shot.state is State.STANDING and shot.rest_seen and long


def do_words(shot: Snapshot) -> str:
    """What the person should do now, in a sentence."""
    if stays(shot):
        return STATE_WORDS[State.STANDING].do_now
    if shot.call is None and shot.press is not None:
        return f"Cold press under way; next: {shot.press.next_what}"
    return shot.do_now if shot.call is None else shot.call.do


def do_sign(shot: Snapshot) -> str:
    """What the person should do now, in a few words."""
    if shot.state in (State.STOPPING, State.STANDING) and shot.stop_reason is not None:
        return DO_SIGN[shot.state] if stays(shot) else REASON_SIGN.get(shot.stop_reason, WET_EDGE)
    held = held_stop(shot)
    if held is not None:
        return held[0]
    if shot.press is not None:
        return "PRESS: KEY C"
    if shot.call is not None and shot.call.pattern == "caution":
        alarm = pressing(shot)
        if alarm is not None:
            return ALARM_SIGN.get(alarm.name, "LOOK AT IT NOW")
        return "WET, THEN KEY W" if shot.state is State.POLISH else DO_SIGN[shot.state]
    return DO_SIGN[shot.state]


def held_stop(shot: Snapshot) -> tuple[str, str] | None:
    """What a held stop wants before anything else can be done, large and in a sentence; None without one."""
    latched = [alarm for alarm in shot.alarms if alarm.latched]
    if shot.state is not State.READY or not latched:
        return None
    if any(not alarm.acknowledged for alarm in latched):
        return RESETS[0]
    return RESETS[1] if Act.RESET in shot.allowed else RESETS[2]


def _named(act: Act, name: str, shot: Snapshot) -> str:
    if act is Act.TAKE_SLOWER and shot.offered_rpm is not None:
        return f"take {shot.offered_rpm:g} rpm"
    return name


def keys_line(shot: Snapshot, width: int, first: str = "") -> str:
    """The keys that do something now, as many as fit, most wanted first; `?` names all."""
    last = "? all keys"
    shown = first
    for act, (key, name) in KEY_OF.items():
        if act not in shot.allowed:
            continue
        piece = f"{key} {_named(act, name, shot)}"
        longer = f"{shown}   {piece}" if shown else piece
        if len(longer) + 3 + len(last) > width:
            break
        shown = longer
    return f"{shown}   {last}" if shown else last
