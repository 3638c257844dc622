"""Sets faults off on a simulated bench and its host, ends those that pass, and repairs all at the end."""

from __future__ import annotations

from collections.abc import Callable

from benchctl.simulator.mishaps import Planned, parse_mishap
from benchctl.simulator.simulated import SimulatedBench
from tests.campaign.draws import OWN_FAULTS, Fault

CLOCK_JUMP_S = 3600.0
HOST_FAULTS = ("host-hang", "suspend", "host-dies", "face-hangs", "disk-full", "clock-jump")


def begin(bench: SimulatedBench, fault: Fault) -> None:
    """Set off a fault of bench, cable or board; a host's fault changes nothing here."""
    if fault.name in HOST_FAULTS:
        return
    if fault.name in OWN_FAULTS:
        _CABLE[fault.name](bench)
        return
    mishap = parse_mishap(f"{fault.name}@{fault.at_s}").mishap
    bench.plan(Planned(mishap, fault.at_s))


def _silent(bench: SimulatedBench) -> None:
    bench.cable.faults.silent = True


def _lost(bench: SimulatedBench) -> None:
    bench.cable.faults.lose = 0.3


def _late(bench: SimulatedBench) -> None:
    bench.cable.faults.late, bench.cable.faults.late_s = 0.3, 5.0


def _doubled(bench: SimulatedBench) -> None:
    bench.cable.faults.double, bench.cable.faults.late_s = 0.3, 1.0


_CABLE: dict[str, Callable[[SimulatedBench], None]] = {
    "cable-silent": _silent,
    "frames-lost": _lost,
    "frames-late": _late,
    "frames-doubled": _doubled,
}


def end(bench: SimulatedBench, name: str) -> None:
    """End a fault that passes; one that cannot pass by itself stays until the repair."""
    ending = _ENDS.get(name)
    if ending is not None:
        ending(bench)


def _plugged_in(bench: SimulatedBench) -> None:
    bench.cable.unplugged = False


def _released(bench: SimulatedBench) -> None:
    bench.board.estop_pressed = False


def _pedal_up(bench: SimulatedBench) -> None:
    bench.pedal_stuck = False


def _table_sensor_back(bench: SimulatedBench) -> None:
    pickup, data = bench.plant.table_pickup, bench.constants.table_sensor
    pickup.dead, pickup.lost, pickup.double, pickup.jitter_share = False, data.lost, data.double, 0.0


def _lap_sensor_back(bench: SimulatedBench) -> None:
    pickup, data = bench.plant.lap_pickup, bench.constants.lap_sensor
    pickup.dead, pickup.lost, pickup.double, pickup.jitter_share = False, data.lost, data.double, 0.0


def _cable_quiet(bench: SimulatedBench) -> None:
    faults = bench.cable.faults
    faults.flip = faults.drop = faults.insert = faults.lose = faults.double = faults.late = 0.0
    faults.silent = False


_ENDS: dict[str, Callable[[SimulatedBench], None]] = {
    "cable-out": _plugged_in,
    "estop": _released,
    "pedal-stuck": _pedal_up,
    "table-sensor-dead": _table_sensor_back,
    "table-sensor-noisy": _table_sensor_back,
    "lap-sensor-dead": _lap_sensor_back,
    "lap-sensor-noisy": _lap_sensor_back,
    "noisy-cable": _cable_quiet,
    "cable-silent": _cable_quiet,
    "frames-lost": _cable_quiet,
    "frames-late": _cable_quiet,
    "frames-doubled": _cable_quiet,
}


def repair(bench: SimulatedBench) -> None:
    """Everything on the bench as it was before: drag, friction, drive, sensors, cable, contacts, relay."""
    for ending in _ENDS.values():
        ending(bench)
    bench.forget_mishaps()
    plant = bench.plant
    plant.friction_share, plant.table_drag_nm, plant.off_post = 1.0, 0.0, False
    plant.stuck_share, plant.runaway_rpm, plant.drive.slip = None, 0.0, 0.0
    plant.post.extra_nm = plant.post.binding = 0.0
    plant.film.cut_off = False
    plant.film.wet()
    bench.board.relay_welded = False
