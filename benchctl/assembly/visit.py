"""A short visit to a board: open, greet, ask, leave. It never arms and never turns anything."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from benchctl.clock import Clock, SystemClock
from benchctl.errors import BadInput, LinkLost
from benchctl.link.board import BoardLink
from benchctl.link.board_settings import Change, shown
from benchctl.link.refusal_words import refusal_sentence
from benchctl.link.transport import Transport
from benchctl.models.bench_config import configured_bench
from benchctl.models.readings import Reading, Refused

ANSWER_S = 3.0
"""Longer than the 2 s after which the board lets a silent owner go: commands may follow each other."""
STEP_S = 0.02
MOST_TOKEN = 0x7FFFFFFF


def port_asked(typed: str | None) -> str:
    """The port typed, else that of bench.toml. BadInput where there is neither."""
    if typed is not None:
        return typed
    bench = configured_bench()
    if bench is None:
        raise BadInput("no port was given and there is no bench.toml; add --port PORT (see 'benchctl ports')")
    return bench.port


def new_link(transport: Transport) -> BoardLink:
    """A link with an owner token of its own."""
    return BoardLink(transport, secrets.randbelow(MOST_TOKEN) + 1)


class Visit:
    """A greeted board. LinkLost where it does not answer; BadInput carries its refusals."""

    def __init__(self, link: BoardLink, clock: Clock) -> None:
        self.link = link
        self._clock = clock
        self._refused: list[Refused] = []
        self.until(lambda: link.owned or link.monitor_only, ANSWER_S)
        if link.board is None:
            raise LinkLost("the board does not answer; check cable, power, and that its files are on it")
        self.until(lambda: link.settings is not None and link.last_status is not None, ANSWER_S)

    def until(self, met: Callable[[], bool], limit_s: float) -> bool:
        """Poll until `met`; False where that took too long."""
        end_s = self._clock.monotonic_s() + limit_s
        while not met():
            now_s = self._clock.monotonic_s()
            if now_s >= end_s:
                return False
            self._take(self.link.poll(now_s))
            self._clock.sleep(STEP_S)
        return True

    def _take(self, readings: list[Reading]) -> None:
        self._refused += [reading for reading in readings if isinstance(reading, Refused)]

    @property
    def stranger(self) -> str:
        """Why the board takes no orders from here, in a sentence; empty where it does."""
        if self.link.owned and not self.link.monitor_only:
            return ""
        told = [refused.why for refused in self._refused if refused.what == "hello"]
        foreign = [why for why in told if why in ("version_differs", "schema_differs")]
        return refusal_sentence([*told, *foreign][-1] if told else "no_answer")

    def store(self, change: Change) -> tuple[str, str]:
        """Have the board store a setting, its old value quoted: the old and the new as people write them.

        BadInput with the board's reason where it refuses; nothing was changed then.
        """
        link, settings = self.link, self.link.settings
        if self.stranger or settings is None or link.last_status is None:
            raise BadInput(f"board settings: {self.stranger or refusal_sentence('settings_unknown')}")
        if link.last_status.board_state != "disarmed":
            state = link.last_status.board_state
            raise BadInput(f"board settings: the board is {state}; settings are changed while disarmed only")
        old = settings[change.setting - 1]
        words = shown(change.name, old), shown(change.name, change.value)
        if old == change.value:
            return words
        self._refused.clear()
        link.write_setting(self._clock.monotonic_s(), change.setting, old, change.value)
        self.until(lambda: bool(self._refused) or self._has(change), ANSWER_S)
        if not self._has(change):
            why = refusal_sentence(self._refused[-1].why if self._refused else "no_answer")
            raise BadInput(f"board settings: {change.key} stays {words[0]}: {why}")
        return words

    def reset(self) -> str | None:
        """Have the board let go of the fault it has latched: its name, or None where it has none.

        BadInput with the board's reason where it refuses. A reset starts nothing.
        """
        link = self.link
        if self.stranger or link.last_status is None:
            raise BadInput(f"board reset: {self.stranger or refusal_sentence('no_answer')}")
        fault = link.last_status.reason
        if link.last_status.board_state != "tripped":
            return None
        self._refused.clear()
        link.reset(self._clock.monotonic_s())
        self.until(lambda: bool(self._refused) or not self._tripped(), ANSWER_S)
        if self._tripped():
            why = refusal_sentence(self._refused[-1].why if self._refused else "no_answer")
            raise BadInput(f"board reset: {fault} stands: {why}")
        return fault

    def _tripped(self) -> bool:
        status = self.link.last_status
        return status is not None and status.board_state == "tripped"

    def _has(self, change: Change) -> bool:
        kept = self.link.settings
        return kept is not None and kept[change.setting - 1] == change.value


@contextmanager
def visit(asked: str) -> Iterator[Visit]:
    """A visit over a port, which is given back at the end."""
    from benchctl.assembly.ports import open_port

    transport, _ = open_port(asked, None)
    try:
        yield Visit(new_link(transport), SystemClock())
    finally:
        transport.close()
