"""A cold press under way: its engine stepped, its records kept, its calls and figures for the faces.

While one is under way nothing may turn the table; whoever steps a bench asks `active`. Time is handed in.
"""

from __future__ import annotations

from typing import Any

from benchctl.errors import BadInput
from benchctl.logbook.keeper import Ticket
from benchctl.models.job import Job
from benchctl.models.press_record import PressRecord
from benchctl.planner.settling import settling_range_m
from benchctl.press.case import TURN_DEG, PressCase
from benchctl.press.engine import Happened, PressEngine
from benchctl.press.states import On, State
from benchctl.press.view import PressView
from benchctl.session.journal import Journal
from benchctl.session.snapshot import Call
from benchctl.units import LENGTH, METRIC, TEMPERATURE, printable, read, show

STEADY_ROOM_K = 2.0
"""From pressing to the last stop the room is held within this (common practice, no source)."""
COLDEST_C, WARMEST_C = -10.0, 50.0
PROGRESS_EVERY_S = 1.0


class Pressing:
    """One press of a job, from start to its record. `now_s` is a clock that never runs backwards."""

    def __init__(
        self,
        journal: Journal,
        job: Job,
        case: PressCase,
        now_s: float,
        *,
        simulated: bool,
        room_c: float,
        system: str = METRIC,
    ) -> None:
        """`system` is that of the person's units, for what is called out in words."""
        self.journal = journal
        self.job, self.case = job, case
        self.engine = PressEngine(case, now_s)
        self.record: PressRecord | None = None
        self._simulated, self._system = simulated, system
        self._room_c = [room_c]
        self._remarks: list[str] = []
        self._progress_s = now_s
        self._silenced = ""
        self.opening: Ticket = journal.keep("press_start", self._meant() | {"room_temperature_c": room_c})
        self._tell(now_s, [Happened("press_started", {"load_kg": case.load_kg, "length_s": case.length_s})])

    @property
    def active(self) -> bool:
        """Whether the loaded lap lies on the glass."""
        return not self.engine.closed

    def slept(self, by_s: float) -> None:
        """The clock of `now_s` stood for so long, and the pitch flowed on."""
        self.engine.slept(max(0.0, by_s))

    def silence(self, now_s: float) -> None:
        """Quiet what is called now, until something else is called."""
        call = self.call(now_s)
        self._silenced = "" if call is None else call.title

    def step(self, now_s: float) -> None:
        """Follow time."""
        if self.active:
            self._tell(now_s, self.engine.tick(now_s))
        if self.active and now_s - self._progress_s >= PROGRESS_EVERY_S:
            self._progress_s = now_s
            self.journal.progress(self.opening.record_id, self.engine.sums(now_s))

    def act(self, event: On, now_s: float) -> bool:
        """A person's act; False, and nothing changes, where it means nothing now."""
        if not self.engine.allows(event):
            return False
        self._tell(now_s, self.engine.handle(event, now_s))
        return True

    def abandon(self, now_s: float) -> None:
        """The program is told to end: the record says how far it was, and never that the lap is off."""
        if self.active:
            self.act(On.LIMIT if self.engine.state is State.OFF else On.END, now_s)

    def answer(self, now_s: float) -> bool:
        """The answer to what is called now, else a wetting; for the pedal, which has one word only."""
        answers = {State.SHIFT: On.SHIFTED, State.OFF: On.LIFTED}
        return self.act(answers.get(self.engine.state, On.WETTED), now_s)

    def say(self, line: str, now_s: float) -> str:
        """A typed line: an act by its name, 'temperature 21 degC', 'note ...'; the reply, empty where none is
        needed.

        BadInput for a temperature that cannot be read, for what is no word for a press or means nothing now.
        """
        word, _, rest = line.strip().partition(" ")
        if word == "temperature":
            return self._temperature(rest, now_s)
        if word == "note" and rest.strip():
            self._remarks.append(rest.strip()[:500])
            return "Noted."
        acts = {event.value: event for event in On if event.value in ("shifted", "wetted", "lifted", "end")}
        if word not in acts:
            known = ", ".join((*acts, "temperature 21 degC", "note TEXT"))
            raise BadInput(f"'{printable(word)}' is no word for a press; known are {known}.")
        if self.act(acts[word], now_s):
            return ""
        raise BadInput(f"'{word}' means nothing now: the press is {self.engine.state.replace('_', ' ')}.")

    def _temperature(self, text: str, now_s: float) -> str:
        value_c = read(text, TEMPERATURE)
        if not COLDEST_C <= value_c <= WARMEST_C:
            raise BadInput(f"temperature: {value_c:g} degC is outside {COLDEST_C:g} to {WARMEST_C:g} degC")
        self._room_c.append(value_c)
        self._tell(now_s, [Happened("room_temperature", {"temperature_c": value_c})])
        return self.drift_words() or "Kept."

    def drift_words(self) -> str:
        """A sentence where the room has drifted too far since the start; empty where it has not."""
        drift = self._room_c[-1] - self._room_c[0]
        if abs(drift) <= STEADY_ROOM_K:
            return ""
        return (
            f"The room is {abs(drift):.1f} K {'warmer' if drift > 0 else 'colder'} than at the start: "
            f"hold it within {STEADY_ROOM_K:g} K from pressing to the last stop."
        )

    def call(self, now_s: float) -> Call | None:
        """What is called out for now; None while nothing is wanted."""
        call = self._call(now_s)
        if call is None or call.title != self._silenced:
            self._silenced = ""
            return call
        return call._replace(silenced=True)

    def _call(self, now_s: float) -> Call | None:
        engine, case = self.engine, self.case
        if engine.state is State.OFF:
            return Call("end", "PRESS IS DONE", "Take the lap off now, then answer: lifted", None)
        if engine.state is State.SHIFT:
            by = show(case.shift_by_m, LENGTH, self._system)
            return Call(
                "caution", "SHIFT THE LAP", f"Slide it {by}, turn it a quarter, then answer: shifted", None
            )
        if engine.rewet_due(now_s):
            return Call("caution", "WETTING IS DUE", "Wet the lap's edge, then answer: wetted", None)
        return None

    def view(self, now_s: float) -> PressView:
        """Its figures at this moment."""
        engine, case = self.engine, self.case
        ahead = {
            State.FIRST: "press done" if case.shift_at_s is None else "shift and turn the lap",
            State.SHIFT: "the second half, once it is shifted",
            State.SECOND: "press done",
            State.OFF: "the lap off the glass",
            State.CLOSED: "polish, or press again",
        }
        waits = engine.state in (State.SHIFT, State.OFF)
        second = engine.shifted_s is not None and case.second_place_m is not None
        return PressView(
            state=engine.state,
            left_s=engine.left_s(now_s),
            waited_s=now_s - engine.entered_s if waits else 0.0,
            next_what=ahead[engine.state],
            place_m=case.second_place_m if second and case.second_place_m is not None else case.first_place_m,
            shift_by_m=case.shift_by_m,
            load_kg=case.load_kg,
            length_s=case.length_s,
            rewet_in_s=engine.last_wetted_s + case.rewet_every_s - now_s,
            over_s=engine.over_s(now_s),
            temperature_c=self._room_c[-1],
            drift=self.drift_words(),
            allowed=frozenset(event for event in On if engine.allows(event)),
        )

    def _tell(self, now_s: float, told: list[Happened]) -> None:
        for one in told:
            self.journal.note(now_s - self.engine.started_s, one.event, one.details)
        if self.engine.closed and self.record is None:
            self._close(now_s)

    def _meant(self) -> dict[str, Any]:
        case = self.case
        return {
            "mirror": case.mirror,
            "lap": case.lap,
            "load_kg": round(case.load_kg, 3),
            "load_n": round(case.load_n, 3),
            "planned_s": case.length_s,
            "shift_at_s": case.shift_at_s,
            "first_place_m": case.first_place_m,
            "simulated": self._simulated,
        }

    def _close(self, now_s: float) -> None:
        engine, case = self.engine, self.case
        flowed = settling_range_m(self.job, case.load_n, now_s - engine.started_s, self._room_c[0])
        moved = engine.shifted_s is not None
        self.record = PressRecord.model_validate(
            self._meant()
            | engine.sums(now_s)
            | {
                "outcome": engine.outcome,
                "second_place_m": case.second_place_m if moved else None,
                "turned_deg": TURN_DEG if moved else None,
                "room_temperature_c": self._room_c[0],
                "room_temperature_end_c": self._room_c[-1],
                "settled_low_m": None if flowed is None else round(flowed[0], 8),
                "settled_high_m": None if flowed is None else round(flowed[1], 8),
                "note": " · ".join(self._remarks)[:2000],
            }
        )
        self.journal.keep("press", {"press": self.opening.record_id} | self.record.model_dump())
