"""What is set up otherwise than in the last segment, so that nobody polishes with last week's weights."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeGuard

from benchctl import units
from benchctl.models.job import Job
from benchctl.models.weights import Piece, weights_words

LEAST_M, LEAST_N, LEAST_S, LEAST_RPM = 0.0005, 0.5, 0.5, 0.05
"""Smaller differences are not told: half of the last figure shown."""


def differences(job: Job, last: Mapping[str, Any], system: str = units.METRIC) -> list[str]:
    """Each difference of this job's set-up from the fields of the last segment, in words of `system`.

    `last` has the names and SI units of a segment record; what it does not have is not compared.
    """
    return [
        *_name(job.lap.name, last.get("lap")),
        *_length(job.setup.post_offset_m, last.get("post_offset_m"), system),
        *_load(job.load_n, last.get("load_n"), system),
        *_weights(job.setup.pieces, last.get("weights"), system),
        *_figure(job.segment.work_rpm, last.get("work_rpm"), LEAST_RPM, "{:g} rpm"),
        *_figure(job.segment.length_s / 60.0, _minutes(last.get("planned_s")), LEAST_S / 60.0, "{:g} min"),
    ]


def _name(now: str, before: object) -> list[str]:
    return [f"lap {now}, was {before}"] if isinstance(before, str) and before and before != now else []


def _length(now: float, before: object, system: str) -> list[str]:
    if not _is_number(before) or abs(now - before) < LEAST_M:
        return []
    new, old = (units.show(value, units.LENGTH, system) for value in (now, before))
    return [f"post at {new}, was {old}"]


def _load(now: float, before: object, system: str) -> list[str]:
    if not _is_number(before) or abs(now - before) < LEAST_N:
        return []
    new, old = (units.show(value, units.FORCE, system) for value in (now, before))
    return [f"load {new}, was {old}"]


def _weights(now: Sequence[Piece], before: object, system: str) -> list[str]:
    try:
        pieces = [Piece.model_validate(one) for one in before] if isinstance(before, list) else []
    except ValueError:
        return []
    new, old = weights_words(now, system), weights_words(pieces, system)
    return [f"weights {new}, were {old}"] if pieces and new != old else []


def _figure(now: float, before: object, least: float, words: str) -> list[str]:
    if not _is_number(before) or abs(now - before) < least:
        return []
    return [f"{words.format(now)}, was {words.format(before)}"]


def _minutes(seconds: object) -> float | None:
    return seconds / 60.0 if _is_number(seconds) else None


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool)
