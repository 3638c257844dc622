"""What the screen gets from outside its own bench: texts, what is kept, mishaps to rehearse."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any


def _nothing() -> list[str]:
    return []


@dataclass(frozen=True)
class Places:
    """Callables; each is asked when its place is opened, and may take some tenths of a second.

    `save_look` gets {"zones": five greys, "edge": grey, and with `pits` "pits": six counts}, a grey being
    0 to 10 or None where it was not looked at, and gives back one sentence that begins with "Not kept"
    where the look was refused. `keep_preparation` gets the answers given before arming, by name. `weights`
    names the pieces and their sum, `differences` what is set otherwise than last time. With `inches` the
    set-up is shown in pounds and inches. `mishaps` are pairs of name and line that `play` sets off on the
    simulated bench.
    """

    plan: Callable[[], list[str]] = lambda: ["No plan is available here."]
    logbook: Callable[[], list[str]] = lambda: ["No logbook is available here."]
    save_look: Callable[[dict[str, Any]], str] = lambda _look: "Not kept: no logbook is available here."
    pits: bool = False
    inches: bool = False
    weights: str = ""
    keep_preparation: Callable[[Mapping[str, str]], None] | None = None
    differences: Callable[[], list[str]] = _nothing
    mishaps: tuple[tuple[str, str], ...] = ()
    play: Callable[[str], None] | None = None
