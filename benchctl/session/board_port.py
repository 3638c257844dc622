"""What the runner asks of a board's link: satisfied by benchctl.link.board.BoardLink."""

from __future__ import annotations

from typing import Protocol

from benchctl.models.readings import Hello, Reading, Status


class BoardPort(Protocol):
    """The board behind its link. Every call takes the host's time in seconds; none blocks, none raises."""

    last_status: Status | None
    last_status_at_s: float | None
    board: Hello | None
    lost: bool

    @property
    def targets(self) -> tuple[int, int] | None:
        """Targets a turn of lap and table, once the board has told its settings."""

    def poll(self, now_s: float) -> list[Reading]: ...
    def hello(self, now_s: float) -> None: ...
    def arm(self, now_s: float, ceiling_rpm: float) -> None: ...
    def run(
        self, now_s: float, rpm: float, call_after_s: float, end_after_s: float, wait_s: float
    ) -> None: ...
    def set_speed(self, now_s: float, rpm: float) -> None: ...
    def stop(self, now_s: float, planned: bool, reason: str) -> None: ...
    def reset(self, now_s: float) -> None: ...
    def call(self, now_s: float, pattern: str) -> None: ...
    def renew(self, now_s: float) -> None: ...
