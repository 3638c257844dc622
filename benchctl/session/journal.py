"""What happened, kept three ways: lines for the screen, events for a listener, records for the logbook."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, Protocol

from benchctl import units
from benchctl.clock import Clock
from benchctl.guard.alarm_rows import title_of
from benchctl.guard.timekeeping import Clocks
from benchctl.link.refusal_words import known_refusal, refusal_sentence
from benchctl.logbook.keeper import KeeperState, Ticket
from benchctl.logbook.lines import Kind
from benchctl.session.snapshot import Line

LINES_KEPT = 60

WORDS: dict[str, str] = {
    "armed": "Armed",
    "disarmed": "Not armed any more",
    "refused": "Refused",
    "turning": "Table told to turn",
    "lap_true": "Lap has turned true",
    "ramp": "Speeding up",
    "polish": "Polishing",
    "held_slow": "Held slow",
    "eased": "Slowed by itself",
    "speed_set": "Speed set",
    "wetted": "Wetted",
    "wet_down_called": "Called for water",
    "wet_down_answered": "Wetted before the stop",
    "waiting_for_water": "Creeping, waiting for water",
    "slow_down": "Slowing down",
    "stopping": "Stopping",
    "at_rest": "Table at rest",
    "rest_not_seen": "Rest not confirmed by the sensor",
    "lifted": "Lap lifted",
    "looked": "Glass looked at",
    "limit": "Waited long enough",
    "lap_state": "Lap",
    "alarm": "Alarm",
    "alarm_again": "Alarm again",
    "alarm_cleared": "Alarm over",
    "alarm_acknowledged": "Alarm seen",
    "alarm_silenced": "Sound off",
    "alarm_reset": "Reset",
    "alarm_shelved": "Alarm put aside",
    "alarm_unshelved": "Alarm back",
    "watching": "You watch the lap",
    "lap_stands": "You say that the lap stands",
    "took_slower": "Slower speed taken",
    "level_accepted": "New level of the lap accepted",
    "cut_short": "Ends before its time",
    "clock_jump": "The computer's clock was set",
    "suspend": "The computer slept",
    "step_late": "The program was held up",
    "start_given_up": "Too late to start; arm again",
    "face_silent": "The screen does not answer",
    "link_lost": "Link lost",
    "board_restarted": "The board restarted",
    "board_stopped": "The board stopped",
    "record_not_kept": "The record waits for the disk",
    "not_started": "Nobody started",
    "press_started": "Cold press begun",
    "shift_called": "Called to shift the lap by",
    "shifted": "Lap shifted and turned, its centre now off the mirror's by",
    "rewet_called": "Called for water at the lap's edge",
    "press_time_up": "Press time is up: lap off",
    "press_ended": "Cold press",
    "room_temperature": "Room",
}

_KINDS = {"kg": units.MASS, "m": units.LENGTH, "c": units.TEMPERATURE}


class Keeper(Protocol):
    """What the journal hands its records to: the logbook's keeper, or what stands for it in a replay."""

    @property
    def state(self) -> KeeperState: ...
    def keep(self, kind: Kind, fields: Mapping[str, Any], *, at: datetime, mono_s: float) -> Ticket: ...
    def progress(
        self, segment_id: str, fields: Mapping[str, Any], *, at: datetime, mono_s: float
    ) -> None: ...
    def trace(self, segment_id: str, batch: bytes, mono_s: float) -> None: ...
    def poll(self, mono_s: float) -> None: ...
    def try_again(self, mono_s: float) -> None: ...


class Journal:
    """Takes what happens; `at_s` counts from the moment the table was told to turn."""

    def __init__(
        self,
        keeper: Keeper,
        clock: Clock,
        listen: Callable[[dict[str, object]], None] | None = None,
        room: Callable[[], str | None] = lambda: None,
    ) -> None:
        """`room` says in one sentence why the disk has no room for another segment, or None."""
        self.keeper = keeper
        self.room = room
        self._clock = clock
        self._listen = listen
        self._lines: deque[Line] = deque(maxlen=LINES_KEPT)
        self.shown: tuple[Line, ...] = ()

    def note(self, at_s: float, event: str, details: Mapping[str, object]) -> None:
        """One event: a line of words, and the event itself for whoever listens."""
        self._lines.append(Line(at_s, words_of(event, details), event, dict(details)))
        self.shown = tuple(self._lines)
        if self._listen is not None:
            self._listen({"at_s": round(at_s, 3), "event": event, **details})

    def clocks(self) -> Clocks:
        """The three clocks at this moment."""
        clock = self._clock
        return Clocks(clock.wall().timestamp(), clock.monotonic_s(), clock.boottime_s())

    def keep(self, kind: Kind, fields: Mapping[str, object]) -> Ticket:
        """Hand one record to the logbook; never waits."""
        return self.keeper.keep(kind, fields, at=self._clock.wall(), mono_s=self._clock.monotonic_s())

    def progress(self, segment_id: str, fields: Mapping[str, object]) -> None:
        """Tell the logbook how far the running segment is."""
        self.keeper.progress(segment_id, fields, at=self._clock.wall(), mono_s=self._clock.monotonic_s())

    def trace(self, segment_id: str, batch: bytes) -> None:
        """Hand on a batch of the segment's trace."""
        self.keeper.trace(segment_id, batch, self._clock.monotonic_s())

    def poll(self) -> None:
        """Try again what waits for the disk, where no thread does."""
        self.keeper.poll(self._clock.monotonic_s())

    def try_again(self) -> None:
        """Try at once what waits for the disk: a person says that there is room."""
        self.keeper.try_again(self._clock.monotonic_s())


def words_of(event: str, details: Mapping[str, object], system: str = units.METRIC) -> str:
    """An event in words, its quantities in the units of `system`."""
    if event.startswith("alarm") and "name" in details:
        after = f" (after: {title_of(str(details['cause']))})" if details.get("cause") else ""
        stop = 1 if details.get("priority") == 1 else None
        return f"{WORDS[event]}: {title_of(str(details['name']), stop)}{after}"
    tail = " ".join(_plain(key, value, system) for key, value in details.items() if value is not None)
    return f"{WORDS.get(event, event.replace('_', ' '))} {tail}".rstrip()


def _plain(key: str, value: object, system: str) -> str:
    if key.endswith("_rpm") and isinstance(value, float):
        return f"{value:g} rpm"
    kind = _KINDS.get(key.rpartition("_")[2])
    if kind is not None and isinstance(value, float):
        return units.show(value, kind, system)
    if key.endswith("_s") and isinstance(value, float):
        return f"{value / 60:g} min" if value >= 120 and value % 60 == 0 else f"{value:.0f} s"
    if key == "why" and known_refusal(value):
        return refusal_sentence(str(value))
    words = str(value)
    return words if " " in words else words.replace("_", " ")
