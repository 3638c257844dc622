"""What the check makes of what it saw: one line each, right, WRONG or not tried, and what to do.

Limits are choices of this project, not from a source: a tenth of rated load with the motor off, 5 % between
asked and measured speed, and 120 rpm as more than a hand turns a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, NamedTuple

from benchctl.link.board_settings import differences
from benchctl.models.bench_config import BoardPlan
from benchctl.models.readings import Hello
from firmware_protocol import messages
from firmware_protocol.settings import Settings

Verdict = Literal["right", "WRONG", "not tried"]

IDLE_LOAD_PERCENT = 10.0
DEAD_LOAD_PERCENT = 0.3
SPEED_TOLERANCE = 0.05
HAND_RPM = 120.0
PEDAL_STOP = "pedal_stop"
PERSONS = (PEDAL_STOP, "raw_stop", "host_stop")
"""Stops that a person gave by other means than a word typed here."""
STOP_MARGIN_S = 0.3
"""0.2 s of the drive's lag and 0.1 s for the order to reach the board."""


class Line(NamedTuple):
    """One line of the check."""

    name: str
    verdict: Verdict
    words: str


@dataclass
class Sensor:
    """Targets seen by one sensor: their times in board seconds, and the counts at each whole turn by hand."""

    stamps: list[float] = field(default_factory=list)
    marks: list[int] = field(default_factory=list)

    def mark(self) -> None:
        """The person says that the mark is in front of the sensor: once to begin, then at each whole turn."""
        self.marks.append(len(self.stamps))

    @property
    def whole_turns(self) -> int:
        """Whole turns between the first mark and the last."""
        return max(0, len(self.marks) - 1)

    @property
    def per_turn(self) -> float | None:
        """Targets counted a turn, or None before one whole turn."""
        return (self.marks[-1] - self.marks[0]) / self.whole_turns if self.whole_turns else None

    def rate_per_s(self, from_s: float) -> float | None:
        """Targets a second since a board time, from the first to the last; None with fewer than 5."""
        stamps = [at_s for at_s in self.stamps if at_s >= from_s]
        return (len(stamps) - 1) / (stamps[-1] - stamps[0]) if len(stamps) >= 5 else None

    def humming(self, targets: int) -> bool:
        """Twelve gaps in a row shorter than any hand turns: noise on the wire."""
        least_s = 60.0 / (HAND_RPM * targets)
        run = 0
        for before, after in pairwise(self.stamps):
            run = run + 1 if after - before < least_s else 0
            if run >= 12:
                return True
        return False


@dataclass
class Contact:
    """A contact that opens and closes: whether it was ever seen each way."""

    opened: bool = False
    closed: bool = False


class Turned(NamedTuple):
    """What a run at creep showed. Speeds in rpm, times in seconds from STOP, loads in percent."""

    asked_rpm: float
    table_rate_per_s: float | None
    lap_edges: int
    load_percent: float
    idle_percent: float
    short: bool = False
    """Stopped before anything could be told from it."""
    stopped_for: str = ""
    """The board's reason, where it ended by a stop that did not come from here."""


class Stopped(NamedTuple):
    """How the table came to rest: last target and power-off after STOP in seconds; None while not yet."""

    last_edge_s: float
    power_off_s: float | None
    allowed_s: float


def board_line(board: Hello, plan: BoardPlan) -> Line:
    """Who the board is, and whether it is the one of bench.toml."""
    words = (
        f"{board.board_id}, firmware {board.firmware_id}, start number {board.boot_count}, "
        f"last reset: {board.reset_cause.replace('_', ' ')}"
    )
    if plan.board_id is not None and plan.board_id != board.board_id:
        return Line(
            "board", "WRONG", f"{words}; bench.toml has board {plan.board_id}: look which one this is"
        )
    return Line("board", "right", words)


def version_line(board: Hello, monitor_only: bool) -> Line:
    """Whether both ends speak the same."""
    words = f"{board.protocol[0]}.{board.protocol[1]}"
    if not monitor_only:
        return Line("protocol version", "right", words)
    other = f"this program speaks {messages.VERSION}.{messages.MINOR}"
    if board.protocol[0] == messages.VERSION:
        other = "its table of messages differs from this program's"
    return Line(
        "protocol version",
        "WRONG",
        f"{words}, {other}: watching and STOP only; put the board's files on it with 'benchctl board put'",
    )


def settings_line(settings: Settings, plan: BoardPlan) -> Line:
    """Whether the board has stored what bench.toml says, and is unlocked."""
    found = differences(settings, plan)
    if found:
        first = found[0]
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        return Line(
            "settings",
            "WRONG",
            f"{first.key} is {first.stored}, bench.toml has {first.wanted}{more}; put it right with "
            f"'benchctl board settings \"{first.key}={first.wanted}\"' or learn anew with --learn",
        )
    if settings.service_lock:
        return Line(
            "settings",
            "WRONG",
            "the board is locked: not commissioned yet, its settings were damaged, or power stayed on once; "
            "find out which, then 'benchctl board settings service_lock=no'",
        )
    ceiling = f"ceiling {settings.ceiling_mrpm / 1000:g} rpm"
    compared = "as in bench.toml" if plan != BoardPlan() else "nothing in bench.toml to compare with"
    return Line("settings", "right", f"{ceiling}; {compared}")


def sensor_line(name: str, sensor: Sensor, targets: int, setting: str, turned: Turned | None) -> Line:
    """A sensor of table or lap: counted by whole turns, at creep, or only seen."""
    count = len(sensor.stamps)
    if sensor.per_turn is not None:
        counted = (
            f"{sensor.per_turn:g} targets a turn over {sensor.whole_turns} by hand, the board has {targets}"
        )
        if round(sensor.per_turn) == targets and sensor.per_turn == round(sensor.per_turn):
            return Line(name, "right", counted)
        return Line(name, "WRONG", f"{counted}; count again, or 'benchctl board settings {setting}=COUNT'")
    if turned is not None and name == "table sensor" and turned.stopped_for.startswith("table_sensor"):
        return Line(name, "WRONG", "the board stopped the table for it; look at sensor, gap and cable")
    if turned is not None and turned.short:
        return Line(name, "not tried", f"{count} targets seen; stopped too early to count them")
    if turned is None and sensor.humming(targets):
        return Line(name, "WRONG", f"{count} targets, faster than any hand: noise; look at cable and screen")
    if count == 0 and turned is not None and name == "table sensor":
        return Line(name, "WRONG", "no target while the table was driven; look at sensor, gap and cable")
    if count == 0:
        return Line(name, "not tried", "no target passed; turn it by hand, or look at sensor, gap and cable")
    if turned is not None and name == "table sensor":
        return _at_creep(name, targets, turned)
    return Line(
        name, "right", f"{count} targets seen, {targets} a turn on the board; not counted by the turn"
    )


def _at_creep(name: str, targets: int, turned: Turned) -> Line:
    if turned.table_rate_per_s is None:
        return Line(
            name, "WRONG", "hardly a target while the table was driven; look at sensor, gap and cable"
        )
    counted = turned.table_rate_per_s * 60.0 / turned.asked_rpm
    words = f"{counted:.1f} targets a turn at {turned.asked_rpm:g} rpm as asked, the board has {targets}"
    if abs(counted / targets - 1.0) <= SPEED_TOLERANCE:
        return Line(name, "right", words)
    return Line(
        name,
        "WRONG",
        f"{words}; count them by hand (without --turn); if they are right, time ten turns and put right "
        "full_scale",
    )


def load_line(idle_percent: float | None, turned: Turned | None, limit_percent: float) -> Line:
    """The load with the motor off, and whether it moves when the motor does."""
    if idle_percent is None:
        return Line("load", "not tried", "the board told none with the motor off")
    words = f"{idle_percent:.1f} % with the motor off"
    if idle_percent > IDLE_LOAD_PERCENT:
        return Line("load", "WRONG", f"{words}; set load_zero_counts, or look at the sensor")
    if turned is None or turned.short:
        return Line("load", "right", f"{words}; not tried under load")
    words += f", {turned.load_percent:.1f} % at {turned.asked_rpm:g} rpm"
    if abs(turned.load_percent - turned.idle_percent) < DEAD_LOAD_PERCENT:
        return Line("load", "WRONG", f"{words}: it does not move; look at sensor and load_span_counts")
    if turned.load_percent > limit_percent:
        return Line("load", "WRONG", f"{words}, above the limit of {limit_percent:g} %; what drags?")
    return Line("load", "right", words)


def pedal_line(pedal: Contact, presses: int, fitted: bool, turned: Turned | None) -> Line:
    """The foot pedal: normally closed, so an open wire reads as pressed."""
    if not fitted:
        return Line("pedal", "not tried", "the board says that none is fitted")
    if turned is not None and turned.stopped_for == PEDAL_STOP:
        return Line("pedal", "right", "held down, it stopped the table")
    if pedal.opened and not pedal.closed:
        return Line("pedal", "WRONG", "reads pressed all the time; let go of it, or look for a broken wire")
    if presses or (pedal.opened and pedal.closed):
        return Line("pedal", "right", f"pressed and let go ({presses} short)")
    return Line("pedal", "not tried", "reads let go; press it and let go")


def estop_line(contact: Contact) -> Line:
    """The emergency stop's reporting contact. The stop itself is in the motor's power, not here."""
    name = "emergency-stop contact"
    if contact.opened and not contact.closed:
        return Line(name, "WRONG", "reads pressed all the time; release it by twisting, or look at the wire")
    if contact.opened:
        return Line(name, "right", "pressed and released; see for yourself that it cuts the motor's power")
    return Line(name, "not tried", "reads released; press it and twist it free")


def stop_line(stopped: Stopped, targets: int, rpm: float) -> Line:
    """Whether the table came to rest within what the ramp allows."""
    name, gap_s = "stop function", 60.0 / (rpm * targets)
    words = (
        f"last target {stopped.last_edge_s:.2f} s after STOP from {rpm:g} rpm (the ramp allows "
        f"{stopped.allowed_s:.2f} s, a target passes every {gap_s:.2f} s)"
    )
    if stopped.power_off_s is None:
        return Line(
            name, "WRONG", f"{words}, power not off: press the emergency stop, look at relay and drive"
        )
    words += f", power off after {stopped.power_off_s:.2f} s"
    if stopped.last_edge_s > stopped.allowed_s:
        return Line(
            name, "WRONG", f"{words}: the drive does not follow its ramp down; look at its own settings"
        )
    return Line(name, "right", f"{words}; not a safety-rated function")


def held_line(reason: str) -> Line:
    """The board stands tripped: nothing can be tried before the person has reset it."""
    stop = reason.replace("_", " ")
    words = f"the board stopped for '{stop}' and holds it; find its cause, then 'benchctl board reset'"
    return Line("stop function", "WRONG", words)


def ended_line(reason: str) -> Line:
    """The run was ended by a stop that did not come from here."""
    stop = reason.replace("_", " ")
    if reason in PERSONS:
        return Line("stop function", "not tried", f"the table was stopped before: {stop}")
    return Line("stop function", "WRONG", f"not tried: the board stopped it: {stop}; see to that first")


def not_tried(names: Sequence[str], why: str) -> list[Line]:
    """Lines for what could not be tried."""
    return [Line(name, "not tried", why) for name in names]
