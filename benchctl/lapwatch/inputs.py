"""What the watcher accepts from a board: nonsense is refused by name before it can do harm."""

from __future__ import annotations

from benchctl.errors import BadInput

LATEST_S = 1e12


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
