"""The whole simulated bench in one piece: plant, board, cable, mishaps and a person, advanced to a time.

    bench = SimulatedBench(demo_job(), seed=1, mishaps=[parse_mishap("lap-stall@300")])
    link = BoardLink(bench.transport, owner=1)
    bench.advance(now_s)            # then let the host step, and so on

Times are seconds since the bench's start; the board runs one control step every 10 ms.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from benchctl.models.job import Job
from benchctl.simulator.bench import Bench
from benchctl.simulator.board import SimulatedBoard
from benchctl.simulator.cable import Cable, HostEnd
from benchctl.simulator.constants import BenchConstants
from benchctl.simulator.friction import FaceFriction
from benchctl.simulator.mishaps import Planned
from benchctl.simulator.operator import Operator, PedalHand
from firmware_protocol import messages

PEDAL_PRESS_S = 0.2


class Truth(NamedTuple):
    """The plant's own values, not the sensors'."""

    at_s: float
    table_rpm: float
    lap_rpm: float
    drive_enabled: bool
    board_state: str
    mishap: str | None


class SimulatedBench:
    """Everything on the far side of the computer's end of the cable, the person at the bench included.

    With `pedal_operator` a scripted person answers by the pedal what buzzer and lamp call. Otherwise
    whoever answers tells the bench with `person`, so that wetting and lifting happen to the glass.
    """

    def __init__(
        self,
        job: Job,
        *,
        seed: int = 1,
        mishaps: Sequence[Planned] = (),
        pedal_operator: Operator | None = None,
        constants: BenchConstants | None = None,
        face: FaceFriction | None = None,
        board_id: str = "simulated",
    ) -> None:
        self.constants = c = constants or BenchConstants()
        self.plant = Bench(job, seed, c, face)
        self.board = SimulatedBoard(c, board_id=board_id)
        self.cable = Cable(seed, c.cable_latency_s)
        self.seed = seed
        self.now_s = 0.0
        self._ticks = 0
        self._control_s = c.control_s
        self._planned = sorted(mishaps, key=lambda planned: planned.at_s)
        self._begun = 0
        self._acting: list[Planned] = []
        self._hand = PedalHand(pedal_operator) if pedal_operator is not None else None
        self._pedal_until_s = 0.0
        self.pedal_stuck = False

    @property
    def transport(self) -> HostEnd:
        """The computer's end of the cable."""
        return self.cable.host

    @property
    def table_targets(self) -> int:
        """Targets a turn of the table's sensor."""
        return self.constants.table_sensor.targets

    @property
    def lap_targets(self) -> int:
        """Targets a turn of the lap's sensor."""
        return self.constants.lap_sensor.targets

    def plan(self, planned: Planned) -> None:
        """Add a mishap while the bench runs; one whose time has passed begins at once."""
        rest = [*self._planned[self._begun :], planned]
        self._planned[self._begun :] = sorted(rest, key=lambda waiting: waiting.at_s)

    def advance(self, to_s: float) -> None:
        """Let the bench live until `to_s`, in whole control steps."""
        last = int(to_s / self._control_s + 1e-6)
        while self._ticks < last:
            self.tick()

    def tick(self) -> None:
        """One control step: plant, then board, then person."""
        if self._acting or self._begun < len(self._planned):
            self._mishaps()
        plant, board, cable = self.plant, self.board, self.cable
        plant.command_rpm, plant.powered = board.command_rpm, board.powered
        plant.advance(self._control_s)
        self._ticks += 1
        self.now_s = cable.now_s = now_s = self._ticks * self._control_s
        edges = self._edges(now_s) if plant.table_edges or plant.lap_edges else []
        board.pedal_pressed = self.pedal_stuck or now_s < self._pedal_until_s
        sent = board.step(now_s, cable.to_board.take(now_s), edges, plant.load_permille())
        if sent:
            cable.board_writes(sent)
        if self._hand is not None:
            self._hand.step(now_s, self)

    def _edges(self, now_s: float) -> list[tuple[float, int]]:
        """The edges up to now, oldest first; a late second edge waits for its time."""
        plant = self.plant
        edges = [(at_s, messages.TABLE_SENSOR) for at_s in plant.table_edges if at_s <= now_s]
        edges += [(at_s, messages.LAP_SENSOR) for at_s in plant.lap_edges if at_s <= now_s]
        plant.table_edges = [at_s for at_s in plant.table_edges if at_s > now_s]
        plant.lap_edges = [at_s for at_s in plant.lap_edges if at_s > now_s]
        edges.sort()
        return edges

    # The person

    def person(self, act: str) -> None:
        """What a person's act does to the glass: `wetted`, `lifted`, `arm` (the lap lies on). Others none."""
        if act == "wetted":
            self.plant.film.wet()
        elif act == "lifted" and self.plant.table_rad_s == 0.0:
            self.plant.lift_lap()
        elif act == "arm":
            self.plant.lay_lap_on()

    def wet(self) -> None:
        """The person wets the work."""
        self.plant.film.wet()

    def press_pedal(self) -> None:
        """A short press of the pedal."""
        self._pedal_until_s = self.now_s + PEDAL_PRESS_S

    # Mishaps

    def _mishaps(self) -> None:
        now_s, planned = self.now_s, self._planned
        while self._begun < len(planned) and planned[self._begun].at_s <= now_s:
            begun = planned[self._begun]
            self._begun += 1
            if begun.mishap.begin is not None:
                begun.mishap.begin(self)
            if begun.mishap.go_on is not None:
                self._acting.append(begun)
        for acting in self._acting:
            assert acting.mishap.go_on is not None
            acting.mishap.go_on(self, now_s - acting.at_s)

    def forget_mishaps(self) -> None:
        """No mishap acts or waits any more; what they have changed stays as it is."""
        self._planned.clear()
        self._acting.clear()
        self._begun = 0

    def host_mishaps(self, now_s: float) -> list[Planned]:
        """The mishaps that the host must play whose time has come, from the first on."""
        return [p for p in self._planned if p.mishap.where == "host" and p.at_s <= now_s]

    @property
    def mishap(self) -> str | None:
        """The mishap that began last; None before the first."""
        return self._planned[self._begun - 1].mishap.name if self._begun else None

    def truth(self) -> Truth:
        """The plant as it is."""
        plant = self.plant
        return Truth(
            at_s=round(self.now_s, 4),
            table_rpm=round(plant.table_rpm, 4),
            lap_rpm=round(plant.lap_rpm, 4),
            drive_enabled=self.board.powered,
            board_state=self.board.state,
            mishap=self.mishap,
        )
