"""Recorded sensor traces played through the watcher: lines of JSON in, changes of state out.

The first line holds the sensor and the geometry; then `{"pulse_s": ...}` for a target passing and
`{"status_s": ..., "set_rpm": ..., "table_rpm": ..., "load_percent": ...}`, in the order of time. A load that
was not measured is null; where one of the two speeds is missing, the other stands for it. Where the first
line says `table_edges_per_turn`, lines `{"table_pulse_s": ...}` for a target of the table may come between.
It may also say what was known of the lap before: `placement` and `reference_ratio`, as `head_of` gives them.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any, NamedTuple

from benchctl.errors import BadInput
from benchctl.lapwatch.settings import WatchSettings
from benchctl.lapwatch.verdict import Verdict
from benchctl.lapwatch.watch import LapWatch

NEEDED = ("targets_per_turn", "clock_tick_s", "mirror_radius_m", "lap_radius_m", "post_offset_m")
MAY_BE = ("hole_radius_m", "load_jump", "table_edges_per_turn", "placement", "reference_ratio")
WHOLE = ("targets_per_turn", "table_edges_per_turn")
LATE_S = 0.25
"""How much older than the line before it a line may be where table edges are in the trace: the board sends
the edges of its two sensors one after the other, and the trace keeps the order in which they came."""
LINE_LIMIT = 4096


class Change(NamedTuple):
    """A change of the watcher's state, at the time of the line that brought it."""

    at_s: float
    verdict: Verdict
    targets: int
    """Targets on the lap, by which one knows what the watcher cannot see."""


def replay(lines: Iterable[str], name: str) -> Iterator[Change]:
    """Play a trace; a Change at its first line of data and at each change of state.

    BadInput names the trace, the line and what is wrong with it.
    """
    numbered = enumerate(lines, start=1)
    first = next(numbered, None)
    if first is None:
        raise BadInput(f"{name}: the trace is empty; its first line must hold {', '.join(NEEDED)}")
    watch = LapWatch(_settings(_object(first[1], name, 1), name))
    late_s = 0.0 if watch.settings.table_edges_per_turn is None else LATE_S
    state, last_s = "", -math.inf
    for number, line in numbered:
        if not line.strip():
            continue
        fields = _object(line, name, number)
        try:
            at_s = _feed(watch, fields)
        except BadInput as error:
            raise BadInput(f"{name}, line {number}: {error}") from error
        if at_s < last_s - late_s:
            raise BadInput(
                f"{name}, line {number}: {at_s:g} s comes after {last_s:g} s; put the lines in order"
            )
        last_s = max(at_s, last_s)
        if watch.state != state:
            state = watch.state
            yield Change(at_s, watch.verdict, watch.settings.targets_per_turn)


def head_of(watch: LapWatch) -> dict[str, object]:
    """The first line of a trace that begins now: all that a replay must know to come to the same verdicts."""
    known = asdict(watch.settings) | watch.memory()
    return {key: value for key, value in known.items() if value is not None}


def _feed(watch: LapWatch, fields: dict[str, Any]) -> float:
    """Give one line to the watcher; the time of the line."""
    if "pulse_s" in fields:
        at_s = _number(fields, "pulse_s")
        watch.pulse(at_s)
        return at_s
    if "table_pulse_s" in fields:
        at_s = _number(fields, "table_pulse_s")
        watch.table_pulse(at_s)
        return at_s
    if "status_s" not in fields:
        raise BadInput("neither pulse_s nor status_s; a line holds one of them")
    at_s = _number(fields, "status_s")
    load = None if fields.get("load_percent") is None else _number(fields, "load_percent")
    table = "set_rpm" if fields.get("table_rpm") is None else "table_rpm"
    asked = table if fields.get("set_rpm") is None else "set_rpm"
    watch.status(at_s, _number(fields, asked), _number(fields, table), load)
    return at_s


def _settings(fields: dict[str, Any], name: str) -> WatchSettings:
    missing = [key for key in NEEDED if key not in fields]
    if missing:
        raise BadInput(
            f"{name}, line 1: {missing[0]} is missing; the first line must hold {', '.join(NEEDED)}"
        )
    known = {key: fields[key] for key in (*NEEDED, *MAY_BE) if fields.get(key) is not None}
    for key in WHOLE:
        if isinstance(known.get(key), float) and known[key].is_integer():
            known[key] = int(known[key])
    try:
        if "placement" in known:
            known["placement"] = _widths(known["placement"])
        return WatchSettings(**known)
    except BadInput as error:
        raise BadInput(f"{name}, line 1: {error}") from error


def _widths(value: object) -> tuple[float, ...]:
    if not isinstance(value, list):
        raise BadInput(f"placement is {repr(value)[:40]}; it must be a list of widths in turns")
    return tuple(_number({"placement": width}, "placement") for width in value)


def _object(line: str, name: str, number: int) -> dict[str, Any]:
    try:
        fields = json.loads(line) if len(line) <= LINE_LIMIT else None
    except (ValueError, RecursionError):
        fields = None
    if not isinstance(fields, dict):
        raise BadInput(f"{name}, line {number}: not a JSON object of a trace; it is damaged or not a trace")
    return fields


def _number(fields: dict[str, Any], key: str) -> float:
    value = fields.get(key)
    try:
        number = float(value) if isinstance(value, int | float) and not isinstance(value, bool) else math.nan
    except OverflowError:  # a whole number of hundreds of digits
        number = math.nan
    if not math.isfinite(number):
        raise BadInput(f"{key} is {repr(value)[:40]}; it must be a finite number")
    return number
