"""Runs the screen. Whatever ends it - key, signal, closed terminal, exception - STOP goes out first."""

from __future__ import annotations

import os
from pathlib import Path

from benchctl.tui.bench import Bench
from benchctl.tui.bench_app import BenchApp
from benchctl.tui.endings import DEFECT, STOPPED, Came, report, signals_stop, status_of
from benchctl.tui.places import Places
from benchctl.tui.sound import Sounder


def run_screen(bench: Bench, *, places: Places | None = None, state_folder: Path | None = None) -> int:
    """Run the screen until it is left; the exit status.

    3 where a signal stopped a turning table, 1 after a crash (its report is kept in `state_folder` and
    named on standard error), 4 where the link was lost when it was left.
    """
    _follow_the_terminal()
    app = BenchApp(bench, places, Sounder())
    crash: BaseException | None = None
    came = Came()
    try:
        with signals_stop(bench, lambda: app.end_soon(STOPPED)) as came:
            app.run(mouse=False)
    except BaseException as error:  # noqa: BLE001 - the table is stopped whatever it was
        crash = error
    bench.stop_now()
    bench.stop_and_close()
    crash = bench.crash or app.failure or crash
    if crash is None or (came.number is not None and isinstance(crash, KeyboardInterrupt)):
        return status_of(bench, came)
    report(crash, state_folder)
    return DEFECT


def _follow_the_terminal() -> None:
    """Take the size from the terminal at every resize; exported, these two would be believed instead."""
    for name in ("COLUMNS", "LINES"):
        os.environ.pop(name, None)
