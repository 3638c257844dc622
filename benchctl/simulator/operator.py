"""A scripted person at the simulated bench: attentive, slow, or gone after the start. Seeded.

Two ways to act: in process by acts, `Operator.step`; or behind a cable by the pedal, `PedalHand`, hearing
no more than buzzer and lamp. Answers are late by what a person needs: to come, to wet, to press.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, NamedTuple

from benchctl.errors import BadInput
from benchctl.units import printable

if TYPE_CHECKING:
    from benchctl.simulator.simulated import SimulatedBench

KINDS = ("attentive", "slow", "absent")

_DELAYS_S: dict[str, dict[str, tuple[float, float]]] = {
    "attentive": {
        "wetted": (3.0, 9.0),
        "speed_up": (2.0, 6.0),
        "lifted": (8.0, 20.0),
        "looked": (10.0, 30.0),
    },
    "slow": {
        "wetted": (72.0, 78.0),
        "speed_up": (30.0, 60.0),
        "lifted": (40.0, 55.0),
        "looked": (60.0, 120.0),
    },
    "absent": {},
}
"""How long each takes to an answer, seconds, least and most. The slow one answers the call for water after
the usual minute is over, while the table creeps and calls on. The absent one starts and answers nothing."""

ARM_AT_S = 1.5
RUN_AFTER_S = 1.2
AGAIN_S = 2.0
"""A start that the board refused is tried again after this."""

_ANSWERS = {
    "offered": "speed_up",
    "wet_down": "wetted",
    "waiting": "wetted",
    "standing": "lifted",
    "look": "looked",
}


class Sees(NamedTuple):
    """What a person at the bench can see and hear."""

    state: str
    """The segment's state."""
    call: str | None
    """What is called: wet_down, end, caution, fault, or None."""


class Operator:
    """Gives the person's acts by name. Pure: the time is handed in, chance comes from the seed."""

    def __init__(self, kind: str, seed: int) -> None:
        """BadInput for a kind that is not of KINDS."""
        if kind not in KINDS:
            raise BadInput(f"--operator: '{printable(kind)}' is not known; use {', '.join(KINDS)}")
        self.kind = kind
        self._random = Random(f"{seed} operator")
        self._wanted: str | None = None
        self._due_s = 0.0
        self._armed_s: float | None = None
        self._ran = False

    def step(self, now_s: float, sees: Sees) -> list[str]:
        """The acts of this moment: the two that start, answers to what is called, lifting, looking."""
        return self.start(now_s, sees) or self._answer(now_s, sees)

    def start(self, now_s: float, sees: Sees) -> list[str]:
        """The two acts that start one segment: every kind of person does them."""
        if self._ran:
            return []
        if sees.state == "ready" and now_s >= ARM_AT_S:
            if self._armed_s is None or now_s - self._armed_s >= AGAIN_S:
                self._armed_s = now_s
                return ["arm"]
        elif sees.state == "armed" and now_s - (self._armed_s or 0.0) >= RUN_AFTER_S:
            self._ran = True
            return ["run"]
        return []

    def _answer(self, now_s: float, sees: Sees) -> list[str]:
        wanted = _ANSWERS.get(sees.state)
        if wanted is None and sees.call in ("wet_down", "caution"):
            wanted = "wetted"
        return [wanted] if wanted is not None and self.due(now_s, wanted) else []

    def due(self, now_s: float, wanted: str | None) -> bool:
        """Whether the person does `wanted` now; each new thing to answer has its own delay."""
        delays = _DELAYS_S[self.kind]
        if wanted not in delays:
            self._wanted = None
            return False
        if wanted != self._wanted:
            self._wanted = wanted
            self._due_s = now_s + self._random.uniform(*delays[wanted])
        if now_s < self._due_s:
            return False
        self._wanted = None
        return True


class PedalHand:
    """A person who works the pedal of the simulated board by what the buzzer and the lamp say.

    On the call for water: wets and presses. On the call at the end, or a fault, once the table rests:
    slides the lap off and presses. Before a start the lap is laid on. The pedal starts nothing.
    """

    def __init__(self, operator: Operator) -> None:
        self._operator = operator

    def step(self, now_s: float, bench: SimulatedBench) -> None:
        """Hear, and act when it is time."""
        board = bench.board
        if board.state == "armed":
            bench.person("arm")
        wanted = None
        if board.call == "wet_down":
            wanted = "wetted"
        elif board.call in ("end", "fault"):
            at_rest = bench.plant.table_rad_s == 0.0
            wanted = "lifted" if at_rest else "wetted"
        if wanted is not None and self._operator.due(now_s, wanted):
            bench.person(wanted)
            bench.press_pedal()
        elif wanted is None:
            self._operator.due(now_s, None)
