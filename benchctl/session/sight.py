"""What the guard looks at in one step, gathered from the runner's parts."""

from __future__ import annotations

from benchctl.guard.sight import Sight
from benchctl.models.readings import Status
from benchctl.session.bench_state import Bench


def sight_of(bench: Bench, status: Status) -> Sight:
    """The bench as of this step, with the board's last status."""
    engine, at = bench.engine, bench.at
    return Sight(
        now_s=at.now_s,
        table_rpm=status.table_rpm,
        target_rpm=engine.target_rpm,
        load_percent=status.load_percent,
        verdict=bench.verdict,
        lap_turns=bench.tally.lap_turns,
        running_s=at.now_s - (at.now_s if engine.run_at_s is None else engine.run_at_s),
        since_speed_change_s=at.now_s - at.speed_changed_s,
        watching_since_s=at.watching_since_s,
        load_limit_percent=status.load_limit_percent,
    )
