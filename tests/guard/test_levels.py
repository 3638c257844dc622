"""Limits with a deadband, and the cable that damages what it carries."""

from __future__ import annotations

import math
from random import Random

from benchctl.guard.cable import DAMAGED_SHARE, WINDOW_S, CableRule
from benchctl.guard.levels import Level


def changes(level: Level, values: list[float]) -> list[bool]:
    """What the level said, where it changed."""
    said = [level.see(value) for value in values]
    return [now for before, now in zip([False, *said], said, strict=False) if now != before]


def test_a_value_that_dances_round_its_limit_is_one_alarm() -> None:
    """OPC 10000-9, B.1.5: with a deadband a noisy signal does not raise it again and again."""
    noise = Random(1)
    values = [10.0 + noise.gauss(0.0, 0.2) for _ in range(1000)]
    assert changes(Level(10.0, 1.0), values) == [True]
    assert len(changes(Level(10.0, 0.0), values)) > 100


def test_it_is_let_go_below_the_deadband_only() -> None:
    """Over at the limit, under at the limit less the deadband."""
    level = Level(10.0, 1.0)
    assert [level.see(value) for value in (10.0, 10.1, 9.1, 9.0, 8.9, 9.9)] == [
        False, True, True, True, False, False,
    ]  # fmt: skip
    assert level.see(10.5)
    assert level.see(math.nan)


def play(rule: CableRule, damaged_share: float, seconds: float, from_s: float = 0.0) -> list[bool]:
    """Ten reports a second and some damage among as many frames again; whether it was told, a look each."""
    chance, told = Random(7), []
    for tick in range(round(seconds * 10)):
        damaged = sum(chance.random() < damaged_share for _ in range(2))
        told.append(rule.see(from_s + tick / 10, damaged, 1) is not None)
    return told


def test_a_noisy_cable_is_told_and_a_sound_one_is_not() -> None:
    """Three frames in a hundred: told within the window. Two in a thousand, for ten minutes: never."""
    told = play(CableRule(), 0.03, 60.0)
    assert told.index(True) <= round(2 * WINDOW_S * 10)
    assert not any(play(CableRule(), 0.002, 600.0))


def test_a_cable_that_is_sound_again_is_forgotten() -> None:
    """Ten clean seconds after, nothing is told any more."""
    rule = CableRule()
    play(rule, 0.1, 30.0)
    assert play(rule, 0.0, 30.0, from_s=30.0)[-1] is False


def test_too_few_reports_say_nothing() -> None:
    """One damaged stretch at the first word is not a share."""
    rule = CableRule()
    assert rule.see(0.0, 1, 1) is None
    assert 0.0 < DAMAGED_SHARE < 0.1
