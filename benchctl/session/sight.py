"""What the guard looks at in one step, gathered from the runner's parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchctl.guard.guard import Sight
from benchctl.models.readings import Status

if TYPE_CHECKING:
    from benchctl.session.runner import Runner


def sight_of(runner: Runner, status: Status) -> Sight:
    """The runner as of this step, with the board's last status."""
    engine, at = runner.engine, runner.at
    return Sight(
        now_s=at.now_s,
        table_rpm=status.table_rpm,
        target_rpm=engine.target_rpm,
        load_percent=status.load_percent,
        verdict=runner.verdict,
        lap_turns=runner.tally.lap_turns,
        running_s=at.now_s - (at.now_s if engine.run_at_s is None else engine.run_at_s),
        since_speed_change_s=at.now_s - at.speed_changed_s,
        watching_since_s=at.watching_since_s,
    )
