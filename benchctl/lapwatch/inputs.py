"""What the watcher accepts from a board: nonsense is refused by name, pauses in the record are noticed."""

from __future__ import annotations

from benchctl.errors import BadInput

LATEST_S = 1e12
LEAST_PAUSE_S, MANY_REPORTS = 1.0, 5.0
"""Nothing at all for so long, and for so many usual distances of reports, is a pause in the record."""


def check_edge(name: str, at_s: float) -> None:
    """BadInput for an edge at a time that is none."""
    if not 0.0 <= at_s < LATEST_S:
        raise BadInput(f"{name}: {at_s!r} is not a time in seconds; give the board's time.")


def check_report(at_s: float, set_rpm: float, table_rpm: float, load_percent: float | None) -> None:
    """BadInput for a report with a time, a speed or a load that cannot be."""
    if not (0.0 <= at_s < LATEST_S and 0.0 <= table_rpm < 1e3 and 0.0 <= set_rpm < 1e3):
        raise BadInput(f"status at {at_s!r} s: a time or speed is out of range; check the sensor.")
    if load_percent is not None and not -1e3 < load_percent < 1e3:
        raise BadInput(f"status at {at_s:g} s: load {load_percent!r} % is out of range; check the drive.")


class Pauses:
    """Notices when neither target nor report was recorded for a while, so that nothing is known of it."""

    def __init__(self) -> None:
        self._event_s = self._report_s = -1.0
        self._usual_s = 0.2

    def ended(self, at_s: float, report: bool) -> bool:
        """Take an event; whether a pause ended with it."""
        pause_s = at_s - self._event_s if self._event_s >= 0.0 else 0.0
        self._event_s = max(self._event_s, at_s)
        paused = pause_s > max(LEAST_PAUSE_S, MANY_REPORTS * self._usual_s)
        if report:
            if self._report_s >= 0.0:
                self._usual_s += 0.2 * (min(at_s - self._report_s, 10.0) - self._usual_s)
            self._report_s = at_s
        return paused
