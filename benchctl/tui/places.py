"""What the screen gets from outside its own bench: texts, what is kept, mishaps to rehearse."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from benchctl.models.preferences import Preferences
from benchctl.models.weights import Piece


def _nothing(_units: str) -> list[str]:
    return []


@dataclass(frozen=True)
class Places:
    """Callables; each is asked when its place is opened, and may take some tenths of a second.

    `save_look` gets a look at the glass under the names of the logbook, in SI, and gives back one sentence
    that begins with "Not kept" where it was refused. `last_look` is the look before, `look_due` says in a
    sentence that one was put off, or nothing. `keep_preparation` gets the answers given before arming, by
    name.
    `pieces` are the weights on the lap; `differences` tells what is set otherwise than last time and
    `blind_spot` what the lap's sensor cannot show, empty where it shows all. `plan`, `logbook` and
    `differences` are asked with the units to show (`units.METRIC`, `units.INCH`). `keep_preferences` keeps
    what was chosen on the screen, and raises BadInput where it cannot. `mishaps` are pairs of name and line
    that `play` sets off on the simulated bench. `decide` keeps what was answered to the plan's suggestion,
    "yes" or "no" and why, and says in a sentence what was kept.
    """

    plan: Callable[[str], list[str]] = lambda _units: ["No plan is available here."]
    logbook: Callable[[str], list[str]] = lambda _units: ["No logbook is available here."]
    save_look: Callable[[dict[str, Any]], str] = lambda _look: "Not kept: no logbook is available here."
    last_look: Callable[[], Mapping[str, Any] | None] = lambda: None
    look_due: Callable[[], str] = str
    pieces: tuple[Piece, ...] = ()
    keep_preparation: Callable[[Mapping[str, str]], None] | None = None
    differences: Callable[[str], list[str]] = _nothing
    blind_spot: Callable[[], str] = str
    preferences: Preferences = field(default_factory=Preferences)
    keep_preferences: Callable[[Preferences], object] | None = None
    mishaps: tuple[tuple[str, str], ...] = ()
    play: Callable[[str], None] | None = None
    decide: Callable[[str], str] | None = None
