"""What a check has seen over a link so far, and the waits of its sequence. Pure in time."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator

from benchctl.link.board import BoardLink
from benchctl.link.checkup_lines import Contact, Sensor
from benchctl.link.orders import RENEW_EVERY_S
from benchctl.models.readings import Armed, LapPulse, PedalPress, Refused, Running, Status, TablePulse


class Seen:
    """Polls the link and keeps count. `driving` says that the table is driven and the permit renewed."""

    def __init__(self, link: BoardLink) -> None:
        self.link = link
        self.now_s = 0.0
        self.idle_percent: deque[float] = deque(maxlen=30)
        self.forget()
        self.driven_percent: list[float] = []
        self.answers: list[Armed | Running | Refused] = []
        self.driving = False
        self._renewed_s = 0.0

    def forget(self) -> None:
        """Leave out what came before the check begins: an opened port may hold old words of the board."""
        self.table, self.lap = Sensor(), Sensor()
        self.pedal, self.estop = Contact(), Contact()
        self.presses = 0
        self.idle_percent.clear()

    def poll(self, now_s: float) -> None:
        """Take what has come, and renew the run permit while driving."""
        self.now_s = now_s
        for reading in self.link.poll(now_s):
            self._take(reading)
        if self.driving and now_s - self._renewed_s >= RENEW_EVERY_S:
            self._renewed_s = now_s
            self.link.renew(now_s)

    def _take(self, reading: object) -> None:
        if isinstance(reading, TablePulse):
            self.table.stamps.append(reading.at_s)
        elif isinstance(reading, LapPulse):
            self.lap.stamps.append(reading.at_s)
        elif isinstance(reading, PedalPress):
            self.presses += 1
        elif isinstance(reading, Armed | Running | Refused):
            self.answers.append(reading)
        elif isinstance(reading, Status):
            self._take_status(reading)

    def _take_status(self, status: Status) -> None:
        for contact, is_open in ((self.pedal, status.pedal_pressed), (self.estop, status.estop_open)):
            contact.opened |= is_open
            contact.closed |= not is_open
        if self.driving:
            self.driven_percent.append(status.load_percent)
        elif not status.enabled and status.table_rpm == 0.0:
            self.idle_percent.append(status.load_percent)

    def refusal(self, what: str) -> str:
        """Why the board refused it, by the refusal's name; `no_answer` where it said nothing."""
        refused = [answer for answer in self.answers if isinstance(answer, Refused) and answer.what == what]
        return refused[-1].why if refused else "no_answer"

    def board_s(self) -> float:
        """The board's time now, as well as it is known; 0 before anything was heard."""
        status, seen_s = self.link.last_status, self.link.last_status_at_s
        if self.link.clock_offset_s is not None:
            return self.now_s + self.link.clock_offset_s
        return 0.0 if status is None or seen_s is None else status.at_s + self.now_s - seen_s

    def until(self, met: Callable[[], bool], limit_s: float) -> Iterator[None]:
        """Wait until `met`, for `limit_s` at most."""
        until_s = self.now_s + limit_s
        while not met() and self.now_s < until_s:
            yield

    def pause(self, seconds: float, going: Callable[[], bool] = lambda: True) -> Iterator[None]:
        """Wait, as long as it is `going`."""
        until_s = self.now_s + seconds
        while self.now_s < until_s and going():
            yield
