"""One order in flight at a time: sent, sent again every 100 ms, given up after five tries."""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

RETRY_S = 0.1
TRIES = 5
RUN_PATIENCE_S = 0.3
"""RUN is not sent again after this: a late start is worse than none."""
QUEUE_LIMIT = 16


class Order(NamedTuple):
    """A message for the board, and the name it goes by in readings."""

    name: str
    message: tuple[object, ...]


class InFlight(NamedTuple):
    """An order that was sent and not answered yet."""

    order: Order
    epoch: int
    seq: int
    first_s: float
    sent_s: float
    tries: int


class Outbox:
    """Keeps the orders in a row. Pure: says what to send, never sends."""

    def __init__(self) -> None:
        self._waiting: deque[Order] = deque(maxlen=QUEUE_LIMIT)
        self._flying: InFlight | None = None
        self._seq = 0

    def put(self, order: Order) -> None:
        """Add an order at the end of the row; a newer speed or call replaces an unsent older one."""
        if order.name in ("set_speed", "call"):
            self._waiting = deque((o for o in self._waiting if o.name != order.name), maxlen=QUEUE_LIMIT)
        self._waiting.append(order)

    def clear(self) -> None:
        """Drop all orders, sent or not: a stop goes before them."""
        self._waiting.clear()
        self._flying = None

    def next_seq(self) -> int:
        """The next sequence number, 16 bits."""
        self._seq = (self._seq + 1) & 0xFFFF
        return self._seq

    def due(self, now_s: float, epoch: int) -> InFlight | None:
        """What is to be sent now, for the first time or again; None while nothing is due."""
        flying = self._flying
        if flying is None:
            if not self._waiting:
                return None
            self._flying = InFlight(self._waiting.popleft(), epoch, self.next_seq(), now_s, now_s, 1)
            return self._flying
        if now_s - flying.sent_s < RETRY_S or self.given_up(now_s):
            return None
        self._flying = flying._replace(sent_s=now_s, tries=flying.tries + 1)
        return self._flying

    def given_up(self, now_s: float) -> bool:
        """Whether the order in flight will not be sent again."""
        flying = self._flying
        if flying is None:
            return False
        late = flying.order.name == "run" and now_s - flying.first_s >= RUN_PATIENCE_S
        return late or (flying.tries >= TRIES and now_s - flying.sent_s >= RETRY_S)

    def drop(self) -> Order | None:
        """Give up the order in flight."""
        flying, self._flying = self._flying, None
        return None if flying is None else flying.order

    def answered(self, epoch: int, seq: int) -> Order | None:
        """The order that a reply belongs to, now done; None for a reply to something older."""
        flying = self._flying
        if flying is None or (flying.epoch, flying.seq) != (epoch, seq):
            return None
        self._flying = None
        return flying.order
