"""What a value of a kept record is: logs are read for ever, so nothing of their shape is taken for sure."""

from __future__ import annotations

from typing import Any


def as_number(value: Any) -> float | None:
    """A JSON value as a number, or None."""
    if type(value) is float:
        return value
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
