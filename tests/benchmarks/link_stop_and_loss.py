"""STOP and renewals on a lossy cable, in stepped time: run by hand, takes minutes.

    python -m tests.benchmarks.link_stop_and_loss [SEGMENTS] [STOPS]

The real controller on an ideal table and the real link, 30 ms a host step; frames are lost independently,
each way with the same chance. No plant: a stop by loss is the only one that can happen.
"""

from __future__ import annotations

import sys
from time import process_time

from firmware_protocol import reasons
from tests.link.ideal_board import IdealBoard, Session

SEGMENT_S = 960.0
STEP_S = 0.05


def stopped(seed: int, lose: float) -> bool:
    """Whether one segment of 16 minutes was stopped by loss."""
    board = IdealBoard(seed=seed)
    session = Session(board)
    session.start(20.0, 4.0)
    session.step_s = STEP_S
    board.cable.faults.lose = lose
    for _ in range(round(SEGMENT_S / STEP_S)):
        session.step()
        session.heard.clear()
        if board.state != "running":
            return True
    return False


def stop_delay_s(seed: int, lose: float) -> tuple[float | None, bool]:
    """Seconds from STOP to the beginning ramp, and whether it was the STOP that stopped."""
    board = IdealBoard(seed=seed)
    session = Session(board)
    session.start(20.0, 3.0)
    board.cable.faults.lose = lose
    called_s = session.now_s
    session.link.stop(called_s, False, "person")
    session.live(1.0)
    by_stop = board.controller.motion.reason == reasons.HOST_STOP
    return (None if board.slowing_at_s is None else board.slowing_at_s - called_s), by_stop


def main() -> None:
    """Print the figures."""
    segments = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    stops = int(sys.argv[2]) if len(sys.argv) > 2 else 500
    for lose in (0.0, 0.01, 0.1, 0.3, 0.5):
        told = [stop_delay_s(seed, lose) for seed in range(stops)]
        times = sorted(at_s for at_s, _ in told if at_s is not None)
        by_stop = sum(by for _, by in told)
        print(
            f"STOP at {lose:4.0%} lost frames: {by_stop} of {stops} by the STOP, ramp begins after "
            f"{times[len(times) // 2] * 1e3:.0f} ms (median), {times[int(len(times) * 0.99)] * 1e3:.0f} ms "
            f"(99 %), {times[-1] * 1e3:.0f} ms (worst)",
            flush=True,
        )
    for lose, count in ((0.01, segments), (0.05, max(10, segments // 10))):
        began = process_time()
        bad = sum(stopped(seed, lose) for seed in range(count))
        print(
            f"{count} segments of 16 min at {lose:.0%} lost frames: {bad} stopped by loss "
            f"({(process_time() - began) / count:.2f} s of processor a segment)",
            flush=True,
        )


if __name__ == "__main__":
    main()
