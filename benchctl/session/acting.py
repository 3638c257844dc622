"""Carries out a person's acts. Those that are events of the segment go to its engine; here are the others.

Each act does one thing: silence quiets, acknowledge says "seen", reset lets go of a fault. None of the three
moves the table, and none does another's work.
"""

from __future__ import annotations

from collections.abc import Callable

from benchctl.guard.alarms import MOST_SHELVED_S
from benchctl.segment.states import On, State
from benchctl.session.acts import Act, Done
from benchctl.session.alarms import ANSWERED_BY_WATER
from benchctl.session.bench_state import Bench
from benchctl.session.start_checks import why_not_arm


class Acting:
    """The acts of a person at one bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self.reset_asked = False
        """A reset was sent to the board; the alarms let go once the board has."""
        self._own: dict[Act, Callable[[Done, float], None]] = {
            Act.ARM: self._arm,
            Act.FASTER: self._faster,
            Act.WETTED: self._wetted,
            Act.WATCHING: self._watching,
            Act.LAP_STANDS: self._lap_stands,
            Act.TAKE_SLOWER: self._take_slower,
            Act.ACCEPT_LEVEL: self._accept_level,
            Act.SILENCE: self._silence,
            Act.ACKNOWLEDGE: self._acknowledge,
            Act.RESET: self._reset,
            Act.SHELVE: self._shelve,
            Act.UNSHELVE: self._unshelve,
            Act.NEXT: self._next,
            Act.NOTE: self._note,
            Act.PRESS: self._press,
            Act.MARK: self._mark,
        }

    def act(self, done: Done, now_s: float) -> None:
        """Carry out one act."""
        self._bench.at.refusal = ""
        own = self._own.get(done.act)
        if own is None:
            self._bench.event(On(done.act.value), now_s)
        else:
            own(done, now_s)

    def _refuse(self, now_s: float, what: str, why: str) -> None:
        self._bench.at.refusal = f"{what}: {why}"
        self._bench.note(now_s, "refused", what=what, why=why)

    def _arm(self, done: Done, now_s: float) -> None:
        bench = self._bench
        if not bench.engine.allows(On.ARM):
            return
        why = why_not_arm(bench)
        bench.at.not_armed = why or ""
        if why is not None:
            self._refuse(now_s, "arm", why)
            return
        board = bench.link.board
        ceiling = (
            bench.facts.weights_rpm if board is None else min(bench.facts.weights_rpm, board.ceiling_rpm)
        )
        bench.event(On.ARM, now_s, ceiling_rpm=ceiling)

    def _faster(self, done: Done, now_s: float) -> None:
        if self._bench.engine.allows(On.FASTER) and self._bench.verdict.state == "settling":
            self._refuse(now_s, "faster", "the lap is still settling; wait until it spins true")
        else:
            self._bench.event(On.FASTER, now_s)

    def _wetted(self, done: Done, now_s: float) -> None:
        """Wetting answers what asked for water."""
        bench = self._bench
        if bench.engine.allows(On.WETTED):
            bench.alarms.tell(bench.alarms.book.acknowledge(ANSWERED_BY_WATER))
            bench.event(On.WETTED, now_s)

    def _watching(self, done: Done, now_s: float) -> None:
        """Said only in answer to a silent sensor: nobody can watch in advance."""
        bench = self._bench
        if not (bench.engine.turning and bench.alarms.ask_after_lap):
            return
        bench.at.watching_since_s = now_s
        bench.note(now_s, "watching")
        bench.alarms.tell(bench.alarms.book.acknowledge(("lap_sensor_dead",)))

    def _lap_stands(self, done: Done, now_s: float) -> None:
        bench = self._bench
        if bench.engine.turning:
            bench.note(now_s, "lap_stands")
            bench.event(On.TRIP, now_s, reason="lap_stalled")

    def _take_slower(self, done: Done, now_s: float) -> None:
        bench = self._bench
        if bench.at.offered_rpm is not None:
            bench.note(now_s, "took_slower", target_rpm=round(bench.at.offered_rpm, 2))
            bench.event(On.EASE, now_s, rpm=bench.at.offered_rpm)
            bench.at.offered_rpm = None

    def _accept_level(self, done: Done, now_s: float) -> None:
        bench = self._bench
        if bench.watch.accept_level():
            bench.verdict = bench.watch.verdict
            bench.note(now_s, "level_accepted", spin_ratio=bench.verdict.reference_ratio)
        else:
            self._refuse(now_s, "accept level", "the lap has not turned calmly at a new level for 20 turns")

    def _silence(self, done: Done, now_s: float) -> None:
        self._bench.alarms.tell(self._bench.alarms.book.silence())
        self._bench.readying.silence(now_s)

    def _acknowledge(self, done: Done, now_s: float) -> None:
        self._bench.journal.try_again()
        self._bench.alarms.tell(self._bench.alarms.book.acknowledge())

    def _reset(self, done: Done, now_s: float) -> None:
        bench = self._bench
        why = bench.alarms.book.why_not_reset()
        if why is not None and not bench.books.kept:
            bench.journal.try_again()
            why = f"{why}; the disk is being tried again, so where it has room now, press once more"
        if why is not None:
            self._refuse(now_s, "reset", why)
            return
        status = bench.link.last_status
        self.reset_asked = True
        if status is not None and status.board_state == "tripped":
            bench.link.reset(now_s)
        else:
            self.board_has_reset(now_s)

    def board_has_reset(self, now_s: float) -> None:
        """The board holds no fault: a reset that was asked for is done."""
        if self.reset_asked:
            self.reset_asked = False
            self._bench.alarms.tell(self._bench.alarms.book.reset(now_s))

    def _shelve(self, done: Done, now_s: float) -> None:
        book = self._bench.alarms.book
        advice = next((alarm.name for alarm in self._bench.alarms.top if alarm.priority == 3), "")
        name = done.text.strip() or advice
        why = book.why_not_shelve(name, MOST_SHELVED_S)
        if why is not None:
            self._refuse(now_s, "shelve", why)
        else:
            self._bench.alarms.tell(book.shelve(name, now_s))

    def _unshelve(self, done: Done, now_s: float) -> None:
        self._bench.alarms.tell(self._bench.alarms.book.unshelve(now_s))

    def _next(self, done: Done, now_s: float) -> None:
        if self._bench.engine.state in (State.CLOSED, State.LOOK):
            self._bench.next_segment(now_s)

    def _note(self, done: Done, now_s: float) -> None:
        self._bench.books.remark(done.text)
        self._bench.note(now_s, "note", text=done.text[:80])

    def _press(self, done: Done, now_s: float) -> None:
        said = self._bench.readying.press(done.text.strip(), now_s)
        if said:
            self._refuse(now_s, "press", said)

    def _mark(self, done: Done, now_s: float) -> None:
        said = self._bench.readying.mark(done.text)
        if said:
            self._refuse(now_s, "mark", said)
