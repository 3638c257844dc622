"""Figures of one reading: one-turn mean, speed now, severity, variation, the once-per-turn part."""

from __future__ import annotations

import math
from itertools import pairwise

from benchctl.lapwatch.reading import Reading


def window_turns(count: int) -> float:
    """Lap turns over which severity is judged: 1.25; with one or two targets longer, for enough gaps."""
    return 1.25 if count >= 3 else 2.5 if count == 2 else 4.0


def turn_ratio(reading: Reading, count: int) -> float | None:
    """Mean spin ratio of the last whole lap turn; errors of placement cancel exactly where none was lost."""
    recent = reading.recent
    turns, lap, _ = recent[-1]
    if len(recent) > count:
        then, lap_then, _ = recent[-1 - count]
        if 0.98 < lap - lap_then < 1.02:
            return (lap - lap_then) / (turns - then)
    goal = lap - 0.98
    for then, lap_then, _ in reversed(recent):
        if lap_then <= goal:
            return (lap - lap_then) / (turns - then)
    return None


def severity(reading: Reading) -> float | None:
    """(max - min) / (2 mean) of the spin ratios in the window; a sine of amplitude a gives a."""
    speeds = [ratio for _, _, ratio in reading.recent]
    del speeds[0]
    if len(speeds) < 3:
        return None
    return 0.5 * (max(speeds) - min(speeds)) * len(speeds) / sum(speeds)


def variation(reading: Reading) -> float | None:
    """Standard deviation over mean of the ratios in the window; a / sqrt 2 for a sine over whole turns."""
    speeds = [ratio for _, _, ratio in reading.recent[1:]]
    if len(speeds) < 3:
        return None
    mean = sum(speeds) / len(speeds)
    return math.sqrt(sum((speed - mean) ** 2 for speed in speeds) / len(speeds)) / mean


def once_a_turn(reading: Reading, count: int) -> float | None:
    """Amplitude of the part that comes once a lap turn, as a share of the mean; needs three targets."""
    if count < 3:
        return None
    recent = reading.recent
    lap_now = recent[-1][1]
    total = cosine = sine = weight = 0.0
    for (_, before, _), (_, lap, ratio) in pairwise(recent):
        if lap < lap_now - 1.0 + 1e-9:
            continue
        width = lap - before
        angle = 2.0 * math.pi * (before + 0.5 * width)
        weight += width
        total += width * ratio
        cosine += width * ratio * math.cos(angle)
        sine += width * ratio * math.sin(angle)
    if weight < 0.9:
        return None
    smear = math.sin(math.pi / count) * count / math.pi
    return 2.0 * math.hypot(cosine, sine) / total / smear


def swings(reading: Reading) -> bool:
    """Whether the speed goes to and fro in the window, and not just over one step."""
    speeds = [ratio for _, _, ratio in reading.recent[1:]]
    whole = max(speeds) - min(speeds)
    if len(speeds) < 4 or whole <= 0.0:
        return False
    for cut in range(1, len(speeds)):
        left, right = speeds[:cut], speeds[cut:]
        if max(max(left) - min(left), max(right) - min(right)) < 0.4 * whole:
            return False
    return True
