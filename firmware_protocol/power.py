"""Whether the drive's power is really on or off, as it was told to be."""

from firmware_protocol import reasons
from firmware_protocol.table_speed import TableSpeed

ANSWER_MS = 500
AFTER_OFF_MS = 10000
CURRENT_MS = 1000
CURRENT_PERMILLE = 100
FASTER_MS = 500
FASTER_MRPM = 2000


class PowerWatch:
    """Compares the readback with the order, and after power-off looks for current and for a table that
    speeds up. Not on within 0.5 s is a stop; not off is the gravest fault the board can find."""

    def __init__(self) -> None:
        self._unlike_ms = 0
        self._off_ms = AFTER_OFF_MS
        self._speed_at_off = -1
        self._current_ms = 0
        self._faster_ms = 0

    def ordered(self, table: TableSpeed) -> None:
        """The power was just ordered on or off."""
        self._unlike_ms = 0
        self._current_ms = 0
        self._faster_ms = 0
        self._off_ms = 0
        self._speed_at_off = table.now_mrpm()

    def step(self, enable: bool, readback: bool, load: int, table: TableSpeed, dt_ms: int) -> int:
        """POWER_NOT_ON, POWER_NOT_OFF or 0."""
        if enable != readback:
            self._unlike_ms += dt_ms
            if self._unlike_ms >= ANSWER_MS:
                return reasons.POWER_NOT_ON if enable else reasons.POWER_NOT_OFF
        else:
            self._unlike_ms = 0
        if self._off_ms >= AFTER_OFF_MS or enable:
            return 0
        self._off_ms += dt_ms
        drawing = load > CURRENT_PERMILLE and self._off_ms > ANSWER_MS
        self._current_ms = self._current_ms + dt_ms if drawing else 0
        if self._speed_at_off >= 0 and table.at_rest():
            self._speed_at_off = -1
        faster = self._speed_at_off >= 0 and table.now_mrpm() > self._speed_at_off + FASTER_MRPM
        self._faster_ms = self._faster_ms + dt_ms if faster else 0
        if self._current_ms >= CURRENT_MS or self._faster_ms >= FASTER_MS:
            return reasons.POWER_NOT_OFF
        return 0
