"""What can be made to go wrong on the simulated bench, by name and at a time.

A mishap changes the thing itself (drag, friction, a sensor, a wire), never what is reported: what the
sensors, the board and the host make of it is theirs. Strengths are judgement, so chosen that the thing
plainly happens.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from benchctl.errors import BadInput
from benchctl.units import printable
from firmware_protocol import messages

if TYPE_CHECKING:
    from benchctl.simulator.simulated import SimulatedBench

LATEST_S = 4 * 3600.0


class Mishap(NamedTuple):
    """One mishap: where it happens (bench, cable, board or host), one line for the list, what it does.

    `begin` is called once; `go_on` at every control step from then on with the seconds since. A mishap of
    the host has neither: the host plays it when `SimulatedBench.host_mishaps` says that it is time.
    """

    name: str
    where: str
    line: str
    begin: Callable[[SimulatedBench], None] | None = None
    go_on: Callable[[SimulatedBench, float], None] | None = None


class Planned(NamedTuple):
    """A mishap at a time, in seconds since the bench's start."""

    mishap: Mishap
    at_s: float


# Lap, post and water


def _lap_grab(bench: SimulatedBench) -> None:
    bench.plant.friction_share = 4.0


def _lap_stall(bench: SimulatedBench, since_s: float) -> None:
    plant = bench.plant
    plant.post.extra_nm = 2.0 * min(1.0, since_s) * plant.friction * plant.face.stall_nm


def _tight_post(bench: SimulatedBench, since_s: float) -> None:
    plant = bench.plant
    plant.post.extra_nm = 0.6 * min(1.0, since_s / 60.0) * plant.friction * plant.face.stall_nm


def _jerky_lap(bench: SimulatedBench, since_s: float) -> None:
    bench.plant.post.binding = 0.85 * min(1.0, since_s / 5.0)


def _settling_lap(bench: SimulatedBench, since_s: float) -> None:
    bench.plant.post.binding = 0.4 * math.exp(-since_s / 12.0)


def _off_post(bench: SimulatedBench) -> None:
    bench.plant.off_post = True


def _dry_lap(bench: SimulatedBench, since_s: float) -> None:
    plant = bench.plant
    plant.film.cut_off = True
    plant.friction_share = min(3.0, 1.0 + since_s / 150.0)
    plant.post.binding = min(0.6, 0.3 * since_s / 150.0)


# Table and drive


def _overload(bench: SimulatedBench, since_s: float) -> None:
    plant = bench.plant
    plant.table_drag_nm = 1.2 * plant.drive.rated_nm * min(1.0, since_s / 2.0)


def _belt_slip(bench: SimulatedBench, since_s: float) -> None:
    bench.plant.drive.slip = 0.2 * min(1.0, since_s)


def _drive_stuck(bench: SimulatedBench) -> None:
    bench.plant.stuck_share = 1.125


def _runaway(bench: SimulatedBench, since_s: float) -> None:
    bench.plant.runaway_rpm = min(90.0, 40.0 * since_s)


# Sensors


def _table_sensor_dead(bench: SimulatedBench) -> None:
    bench.plant.table_pickup.dead = True


def _table_sensor_noisy(bench: SimulatedBench) -> None:
    pickup = bench.plant.table_pickup
    pickup.double, pickup.lost, pickup.jitter_share = 0.25, 0.05, 0.2


def _lap_sensor_dead(bench: SimulatedBench) -> None:
    bench.plant.lap_pickup.dead = True


def _lap_sensor_noisy(bench: SimulatedBench) -> None:
    pickup = bench.plant.lap_pickup
    pickup.double, pickup.lost, pickup.jitter_share = 0.15, 0.35, 0.2


# Cable and board


def _cable_out(bench: SimulatedBench) -> None:
    bench.cable.pull_out()


def _noisy_cable(bench: SimulatedBench) -> None:
    faults = bench.cable.faults
    faults.flip, faults.drop, faults.insert = 1 / 4000, 1 / 8000, 1 / 8000


def _board_reset(bench: SimulatedBench) -> None:
    bench.board.restart(messages.BROWN_OUT, bench.now_s)


def _board_hang(bench: SimulatedBench) -> None:
    bench.board.hang(bench.now_s)


def _relay_welded(bench: SimulatedBench) -> None:
    bench.board.relay_welded = True


def _estop(bench: SimulatedBench) -> None:
    bench.board.estop_pressed = True


def _pedal_stuck(bench: SimulatedBench) -> None:
    bench.pedal_stuck = True


MISHAPS: tuple[Mishap, ...] = (
    Mishap("lap-grab", "bench", "the lap sticks to the glass and is torn along", _lap_grab),
    Mishap("lap-stall", "bench", "the post seizes and the lap stops turning", None, _lap_stall),
    Mishap("tight-post", "bench", "the post tightens over a minute; the lap slows", None, _tight_post),
    Mishap("jerky-lap", "bench", "the post binds and lets go, some times a lap turn", None, _jerky_lap),
    Mishap("off-post", "bench", "the lap leaves its post and rides on the mirror", _off_post),
    Mishap("dry-lap", "bench", "no water reaches the lap any more; drag climbs", None, _dry_lap),
    Mishap("settling-lap", "bench", "the lap jerks as at a start, and settles again", None, _settling_lap),
    Mishap("overload", "bench", "something drags harder and harder on the table", None, _overload),
    Mishap("belt-slip", "bench", "the belt slips by a fifth", None, _belt_slip),
    Mishap("drive-stuck", "bench", "the drive sticks an eighth too fast, whatever it is asked", _drive_stuck),
    Mishap("runaway", "bench", "the drive runs up by itself, far past what it is asked", None, _runaway),
    Mishap("table-sensor-dead", "bench", "the table's sensor goes silent", _table_sensor_dead),
    Mishap(
        "table-sensor-noisy",
        "bench",
        "the table's sensor doubles, loses and shifts edges",
        _table_sensor_noisy,
    ),
    Mishap("lap-sensor-dead", "bench", "the lap's sensor goes silent; the lap turns on", _lap_sensor_dead),
    Mishap("lap-sensor-noisy", "bench", "the lap's sensor misses a third of its targets", _lap_sensor_noisy),
    Mishap("cable-out", "cable", "the plug comes out of the computer", _cable_out),
    Mishap("noisy-cable", "cable", "about two frames in a hundred are damaged", _noisy_cable),
    Mishap("board-reset", "board", "the board loses power for a moment and starts anew", _board_reset),
    Mishap("board-hang", "board", "the board's program hangs until its watchdog bites", _board_hang),
    Mishap("relay-welded", "board", "the drive's power relay does not open any more", _relay_welded),
    Mishap("estop", "board", "somebody presses the hard-wired emergency stop", _estop),
    Mishap("pedal-stuck", "board", "the pedal is pressed and stays down", _pedal_stuck),
    Mishap("disk-full", "host", "the disk takes no more records"),
    Mishap("clock-jump", "host", "the computer's wall clock jumps by an hour"),
    Mishap("host-hang", "host", "the program hangs for five seconds"),
    Mishap("suspend", "host", "the computer sleeps for five minutes"),
)

_BY_NAME = {mishap.name: mishap for mishap in MISHAPS}


def parse_mishap(text: str) -> Planned:
    """Read NAME@SECONDS. BadInput names what is wrong and what there is."""
    name, at, seconds = text.partition("@")
    mishap = _BY_NAME.get(name)
    if mishap is None:
        known = ", ".join(_BY_NAME)
        raise BadInput(f"--mishap: '{printable(name)}' is not known; use one of {known}")
    try:
        at_s = float(seconds)
    except ValueError:
        at_s = math.nan
    if not at or not 0.0 <= at_s <= LATEST_S:
        raise BadInput(
            f"--mishap: '{printable(text)}' needs a time from 0 to {LATEST_S:g} s, such as {name}@120"
        )
    return Planned(mishap, at_s)
