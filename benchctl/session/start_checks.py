"""What must be right before the board is asked to arm. The board has its own checks and the last word."""

from __future__ import annotations

from benchctl.session.bench_state import Bench
from benchctl.session.readying import UNDER_WAY


def why_not_arm(bench: Bench) -> str | None:
    """One sentence that says why arming is refused and what to do; None where nothing stands in the way."""
    return _latched(bench) or _press(bench) or _weights(bench) or _ceiling(bench) or bench.journal.room()


def _latched(bench: Bench) -> str | None:
    book = bench.alarms.book
    if not book.latched:
        return None
    stopped = next(alarm for alarm in book.alarms() if alarm.latched)
    return (
        f"the stop '{stopped.title}' is not reset; find its cause, acknowledge it, then reset, before arming"
    )


def _press(bench: Bench) -> str | None:
    return UNDER_WAY if bench.readying.pressing else None


def _weights(bench: Bench) -> str | None:
    plan, setup, highest = bench.engine.plan, bench.facts.job.setup, bench.facts.weights_rpm
    if plan.work_rpm <= highest:
        return None
    return (
        f"loose weights {setup.loose_radius_m * 1000:.0f} mm from the post stay put up to "
        f"{highest:.0f} rpm, and work_speed is {plan.work_rpm:g} rpm; "
        "hold them, set them nearer the post, or go slower"
    )


def _ceiling(bench: Bench) -> str | None:
    board, plan = bench.link.board, bench.engine.plan
    if board is None or plan.work_rpm <= board.ceiling_rpm:
        return None
    return (
        f"work_speed is {plan.work_rpm:g} rpm and the board's stored ceiling {board.ceiling_rpm:g} rpm; "
        f"lower work_speed to that, or change the ceiling with 'benchctl board settings'"
    )
