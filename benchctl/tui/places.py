"""What the screen gets from outside its own bench: texts of plan and logbook, and where a look is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Places:
    """Callables; each is asked when its place is opened, and may take some tenths of a second."""

    plan: Callable[[], list[str]] = lambda: ["No plan is available here."]
    logbook: Callable[[], list[str]] = lambda: ["No logbook is available here."]
    save_look: Callable[[dict[str, Any]], str] = lambda _look: "Not kept: no logbook is available here."
