"""Every alarm, as data: what it is, how pressing, what to do (60 characters), when it comes and goes.

Priority 1: the table is being stopped or was stopped by a fault. 2: act within a minute. 3: advice, which
alone may be shelved. Delays are in seconds. An on-delay where a short blip needs no action, an off-delay
where one does, and a re-alarm time after which an alarm that still stands is told again (the words of OPC
10000-9, annex B.1.5; the figures are this project's). What needs no act of a person is no alarm but an event.
"""

from __future__ import annotations

from typing import NamedTuple

from benchctl.guard.words import REASONS, words_for

ADVICE = 3
STOPPED = 1


class AlarmRow(NamedTuple):
    """One alarm. `call` is the pattern of buzzer and lamp, None for none. Alarms of one `group` have one
    cause: that of the highest `rank` stands on top, the first among equals. `listed` is false for what the
    work itself asks for, which is only called.
    """

    name: str
    priority: int
    title: str
    do: str
    call: str | None = None
    group: str = ""
    on_delay_s: float = 0.0
    off_delay_s: float = 5.0
    again_s: float | None = None
    latches: bool = False
    listed: bool = True
    rank: int = 0

    @property
    def is_work(self) -> bool:
        """Whether the work itself asks for it: no consequence of anything, it folds beneath nothing."""
        return not self.listed and self.call != "fault"

    @property
    def wants_acknowledging(self) -> bool:
        """Whether it stays, once its cause has gone, until a person says that they saw it."""
        return self.listed and self.priority < ADVICE


_WARNINGS = (
    AlarmRow("lap_jerky", 2, "Lap jerks", "Wet it or slow down", "caution", "water", again_s=60.0, rank=1),
    AlarmRow(
        "lap_slowing",
        2,
        "Lap is losing speed",
        "Wet the work; it is probably drying",
        "caution",
        "water",
        again_s=60.0,
    ),
    AlarmRow("lap_drying", 2, "Drag is rising", "Wet the work now", "caution", "water", again_s=15.0),
    AlarmRow(
        "load_high",
        2,
        "Motor load nears its limit",
        "Wet the work or go slower; look for what drags",
        "caution",
        "water",
        on_delay_s=2.0,
        again_s=60.0,
        rank=-1,
    ),
    AlarmRow(
        "load_unread",
        3,
        "The motor's load reads nothing",
        "Mend its wire: a lap that grabs would go unseen",
    ),
    AlarmRow(
        "lap_fast",
        2,
        "Lap runs with the mirror",
        "Look at the post and the weights",
        "caution",
        "post",
        again_s=60.0,
    ),
    AlarmRow(
        "lap_sensor_dead",
        2,
        "Lap sensor silent",
        "Does the lap turn? Answer: I watch it, or lap stands",
        "caution",
        "lap sensor",
        again_s=15.0,
    ),
    AlarmRow(
        "lap_watched",
        3,
        "You watch the lap yourself",
        "Keep looking; its sensor is silent. STOP if it stands",
        group="lap sensor",
        off_delay_s=0.0,
    ),
    AlarmRow(
        "lap_signal_weak", 3, "Lap sensor misses targets", "Look at it after this segment", group="lap sensor"
    ),
    AlarmRow(
        "record_not_kept",
        2,
        "Disk full or gone",
        "Free space; the record is held in memory",
        "caution",
        "disk",
        again_s=60.0,
    ),
    AlarmRow(
        "disk_low", 3, "Little room where the log is kept", "Free some before the next segment", group="disk"
    ),
    AlarmRow(
        "cable_noisy",
        3,
        "The cable damages what it carries",
        "Keep the motor's cables away; look at the plug",
        group="cable",
        on_delay_s=15.0,
        off_delay_s=10.0,
    ),
    AlarmRow(
        "board_silent",
        3,
        "No word from the board",
        "Check cable and power; nothing moves",
        group="cable",
        on_delay_s=1.0,
        off_delay_s=0.0,
    ),
    AlarmRow(
        "port_as_root",
        3,
        "This program runs as root",
        "Run it as a user; other programs could open the port too",
    ),
    AlarmRow(
        "clock_jump",
        3,
        "The computer's clock was set",
        "Check the time of day; durations are not affected",
        off_delay_s=60.0,
    ),
    AlarmRow(
        "computer_slept",
        3,
        "The computer slept",
        "Look at glass and water before you start",
        off_delay_s=60.0,
    ),
)

_WORK = (
    AlarmRow(
        "wet_down",
        2,
        "WET THE WORK NOW",
        "Flood the open glass, then answer: wetted",
        "wet_down",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
    AlarmRow(
        "wet_down_late",
        2,
        "WET THE WORK NOW",
        "Creeping; it stops unwetted at zero",
        "wet_down",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
    AlarmRow(
        "wetting_due",
        2,
        "WETTING IS DUE",
        "Wet the open glass, then answer: wetted",
        "caution",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
    AlarmRow(
        "lap_true",
        2,
        "LAP TURNS TRUE",
        "Let it speed up, or stop",
        "caution",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
    AlarmRow(
        "rest_unseen",
        2,
        "REST NOT SEEN",
        "Wet the work now; slide the lap off only if it stands",
        "end",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
    AlarmRow(
        "lap_standing",
        2,
        "TABLE AT REST",
        "Slide the lap off now, then answer: lifted",
        "end",
        off_delay_s=0.0,
        again_s=15.0,
        listed=False,
    ),
)

ALARMS: dict[str, AlarmRow] = {row.name: row for row in (*_WARNINGS, *_WORK)}
"""Warnings and calls by name. A stop has a row of its own under its reason: see `stop_row`."""

BY_HAND = frozenset({"person", "host_stop", "pedal_stop", "raw_stop", "program_closed", "terminal_closed"})
"""Stops that a person asked for: they call for water, and there is nothing to find or to reset."""
NOT_LATCHED = BY_HAND | {
    "planned_end",
    "end_unanswered",
    "watchdog_reset",
    "brown_out",
    "board_reset",
    "board_restarted",
}
"""Stops after which the board asks for no reset; all others latch."""
OVER_ALL = "power_not_off"
"""Stands above every other cause: power did not switch off."""


def stop_row(reason: str) -> AlarmRow:
    """The row of a stop for `reason`, also one that is not known here."""
    words = words_for(reason)
    by_hand = reason in BY_HAND
    return AlarmRow(
        reason,
        2 if by_hand else STOPPED,
        words.title,
        words.do,
        "fault",
        off_delay_s=0.0,
        latches=reason not in NOT_LATCHED,
        listed=not by_hand,
    )


def title_of(name: str, priority: int | None = None) -> str:
    """An alarm's title: the warning's where there is one, unless its priority says that it is a stop."""
    warns = name in ALARMS and priority != STOPPED
    return ALARMS[name].title if warns else stop_row(name).title


STOPS: dict[str, AlarmRow] = {reason: stop_row(reason) for reason in REASONS}

HOST_ASKED = frozenset(
    {
        "host_stop",
        "program_closed",
        "planned_end",
        "lap_stalled",
        "lap_sensor_dead",
        "lap_jerky",
        "dry_lap",
        "lap_off_post",
        "link_lost",
        "board_silent",
        "face_silent",
        "disk_full",
        "program_error",
        "host_fault",
        "computer_slept",
        "lap_slowing",
        "lap_not_true",
        "offer_unanswered",
        "hold_unanswered",
        "speed_not_reached",
        "rest_not_reached",
        "start_unanswered",
    }
)
"""Reasons the board can only have from this program: it tells them back, and they are no new cause."""
