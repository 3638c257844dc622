"""A STOP that goes on until a status says that it is obeyed. Pure in time: says what to send, never sends."""

from __future__ import annotations

from firmware_protocol import messages

STOP_EVERY_S = 0.05
STOP_COPIES = 3
Message = tuple[object, ...]


class StopCall:
    """At once three times, then every 50 ms."""

    def __init__(self) -> None:
        self._message: Message | None = None
        self._sent_s = 0.0
        self._heard_since = False

    def begin(self, message: Message, now_s: float) -> list[Message]:
        """What is to be sent at once."""
        self._message, self._sent_s, self._heard_since = message, now_s, False
        return [message] * STOP_COPIES

    def due(self, now_s: float) -> list[Message]:
        """What is to be sent again now."""
        if self._message is None or now_s - self._sent_s < STOP_EVERY_S:
            return []
        self._sent_s = now_s
        return [self._message]

    def status(self, state: int, *, certain: bool) -> None:
        """A status came. The first may be older than the STOP; a later one ends it, if it is `certain`."""
        obeyed = state not in (messages.RUNNING, messages.ARMED)
        if obeyed and self._heard_since and certain:
            self._message = None
        self._heard_since = True
