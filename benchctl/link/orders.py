"""Orders in a row, one in flight: sent, sent again every 100 ms, given up after five tries.

An order that could not be sent for a second is given up too: what a person asked for then is not what they
want now. RUN is given up 300 ms after it was asked for, since a late start is worse than none.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

RENEW_EVERY_S = 0.1
"""A renewal of the run permit is due this long after the last one, and goes out with the next step: a host
that steps every 30 ms sends one each 120 ms, or 150 ms where a step came late."""
RETRY_S = 0.1
TRIES = 5
PATIENCE_S = 1.0
RUN_PATIENCE_S = 0.3
SPREAD = 40503
"""2^16 over the golden ratio: multiples of it lie far apart in 16 bits."""
REPLACED = ("set_speed", "call")
"""Of these only the newest counts."""


class Order(NamedTuple):
    """A message for the board, the name it goes by in readings, and when it was asked for."""

    name: str
    message: tuple[object, ...]
    asked_s: float

    def late(self, now_s: float) -> bool:
        """Whether it is too old to be sent, or sent again."""
        return now_s - self.asked_s >= (RUN_PATIENCE_S if self.name == "run" else PATIENCE_S)


class InFlight(NamedTuple):
    """An order that was sent and not answered yet."""

    order: Order
    epoch: int
    seq: int
    sent_s: float
    tries: int


class Numbers:
    """Sequence numbers of 16 bits. Each owner begins elsewhere, so that no answer to another is taken."""

    def __init__(self, owner: int) -> None:
        self._last = owner * SPREAD & 0xFFFF

    def next(self) -> int:
        """The next one; after 65535 comes 0."""
        self._last = (self._last + 1) & 0xFFFF
        return self._last


class Asked:
    """Questions to the board, which are no orders: of each kind the number and the time of the newest."""

    def __init__(self, owner: int) -> None:
        self._numbers = Numbers(owner)
        self._newest: dict[int, tuple[int, float]] = {}

    def again(self, kind: int, now_s: float) -> int:
        """The number of a question that is sent now."""
        seq = self._numbers.next()
        self._newest[kind] = (seq, now_s)
        return seq

    def next_number(self) -> int:
        """A number for what is answered only when it is refused."""
        return self._numbers.next()

    def since_s(self, kind: int, now_s: float) -> float:
        """Seconds since this kind was last asked; for ever where it never was."""
        return now_s - self._newest[kind][1] if kind in self._newest else float("inf")

    def asked_s(self, kind: int, seq: int) -> float | None:
        """When the question was sent that is answered by this number; None where it is not the newest."""
        newest, sent_s = self._newest.get(kind, (-1, 0.0))
        return sent_s if seq == newest else None


class Outbox:
    """Keeps the orders in a row. Pure: says what to send, never sends.

    Orders have numbers of their own: the board takes one for old whose number is far ahead of the last
    order's, as it would be after half an hour of renewals from the same numbers.
    """

    def __init__(self, owner: int = 0) -> None:
        self._waiting: deque[Order] = deque()
        self._flying: InFlight | None = None
        self._numbers = Numbers(owner)

    def put(self, order: Order) -> None:
        """Add an order at the end of the row; a newer speed or call replaces an unsent older one."""
        if order.name in REPLACED:
            self._waiting = deque(waiting for waiting in self._waiting if waiting.name != order.name)
        self._waiting.append(order)

    def clear(self) -> None:
        """Drop all orders, sent or not: a stop goes before them."""
        self._waiting.clear()
        self._flying = None

    def due(self, now_s: float, epoch: int) -> InFlight | None:
        """What is to be sent now, first or again; None while nothing is due. `given_up` is asked before."""
        flying = self._flying
        if flying is None:
            if not self._waiting:
                return None
            self._flying = InFlight(self._waiting.popleft(), epoch, self._numbers.next(), now_s, 1)
            return self._flying
        if now_s - flying.sent_s < RETRY_S:
            return None
        self._flying = flying._replace(sent_s=now_s, tries=flying.tries + 1)
        return self._flying

    def given_up(self, now_s: float) -> list[Order]:
        """The orders that nobody answered or that could not be sent in time, now taken out of the row."""
        late = []
        flying = self._flying
        if flying is not None:
            tired = flying.tries >= TRIES and now_s - flying.sent_s >= RETRY_S
            if tired or (flying.order.name == "run" and flying.order.late(now_s)):
                late.append(flying.order)
                self._flying = None
        while self._waiting and self._waiting[0].late(now_s):
            late.append(self._waiting.popleft())
        return late

    def answered(self, name: str, epoch: int, seq: int) -> Order | None:
        """The order that a reply to `name` belongs to, now done; None for a reply to something older."""
        flying = self._flying
        if flying is None or (flying.order.name, flying.epoch, flying.seq) != (name, epoch, seq):
            return None
        self._flying = None
        return flying.order
