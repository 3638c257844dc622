"""STOP and renewals on a lossy cable, in stepped time: run by hand, takes two to three seconds a segment.

    python -m tests.benchmarks.link_stop_and_loss [SEGMENTS] [--lose 0.01] [--first-seed 0]
    python -m tests.benchmarks.link_stop_and_loss 0 --stops 500

The real controller on an ideal table and the real link, 30 ms a host step; frames are lost independently,
each way with the same chance. No plant: a stop by loss is the only one that can happen. Each segment has a
seed of its own, so a long count may be split over processes: `500`, and `500 --first-seed 500`.
"""

from __future__ import annotations

import argparse
from time import process_time

from firmware_protocol import reasons
from tests.link.ideal_board import IdealBoard, Session

SEGMENT_S = 960.0
STEP_S = 0.03
TELL_EVERY = 20


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


def count_segments(count: int, lose: float, first_seed: int) -> None:
    """Whole segments on a lossy cable, one line each 20 of them."""
    began, bad = process_time(), 0
    for done in range(1, count + 1):
        seed = first_seed + done - 1
        if stopped(seed, lose):
            bad += 1
            print(f"seed {seed} was stopped by loss", flush=True)
        if done % TELL_EVERY == 0 or done == count:
            print(
                f"{done} of {count} segments of 16 min at {lose:.0%} lost frames, seeds from {first_seed}: "
                f"{bad} stopped by loss ({(process_time() - began) / done:.2f} s of processor a segment)",
                flush=True,
            )


def count_stops(stops: int) -> None:
    """How soon a STOP is obeyed on cables ever worse."""
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


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="STOP and renewals on a lossy cable.")
    parser.add_argument("segments", type=int, nargs="?", default=100)
    parser.add_argument("--lose", type=float, default=0.01, help="share of frames that is lost")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--stops", type=int, default=0, help="STOP acts to time, each at five shares of loss")
    asked = parser.parse_args()
    count_segments(asked.segments, asked.lose, asked.first_seed)
    if asked.stops:
        count_stops(asked.stops)


if __name__ == "__main__":
    main()
