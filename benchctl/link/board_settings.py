"""The board's stored settings as people write them: between the wire's numbers and a person's words."""

from __future__ import annotations

import re
from typing import NamedTuple

from benchctl import units
from benchctl.errors import BadInput
from benchctl.models.bench_config import RAMP, BoardPlan
from benchctl.units import printable
from firmware_protocol.settings import SETTING_TABLE, Settings

YES_NO = {"yes": 1, "no": 0, "true": 1, "false": 0, "1": 1, "0": 0}


class Spelling(NamedTuple):
    """How one setting is written: its key, the field of BoardPlan, and a quantity or a plain number."""

    key: str
    field: str
    kind: units.Kind | None
    unit: str
    per_unit: float
    """Whole steps of the wire in one unit of the model."""
    shown: float = 1.0
    """Units shown in one unit of the model."""


def _plain(name: str) -> Spelling:
    return Spelling(name, name, None, "", 1.0)


_SPELLINGS = {
    "ceiling_mrpm": Spelling("ceiling", "ceiling_rpm", units.TURNING_SPEED, "rpm", 1000.0),
    "ramp_up_mrad_s2": Spelling("ramp_up", "ramp_up_rad_s2", RAMP, "rad/s^2", 1000.0),
    "planned_stop_mrad_s2": Spelling("planned_stop", "planned_stop_rad_s2", RAMP, "rad/s^2", 1000.0),
    "fault_stop_mrad_s2": Spelling("fault_stop", "fault_stop_rad_s2", RAMP, "rad/s^2", 1000.0),
    "t_ss1_ms": Spelling("power_off_after", "power_off_after_s", units.DURATION, "s", 1000.0),
    "load_limit_permille": Spelling("load_limit", "load_limit", units.SHARE, "%", 1000.0, 100.0),
    "full_scale_mrpm": Spelling("full_scale", "full_scale_rpm", units.TURNING_SPEED, "rpm", 1000.0),
    "debounce_us": Spelling("debounce", "debounce_s", units.DURATION, "ms", 1e6, 1000.0),
}
SPELLINGS = {row[1]: _SPELLINGS.get(row[1], _plain(row[1])) for row in SETTING_TABLE}
"""Name on the wire -> spelling; in the order of the table."""
_YES_NO_NAMES = tuple(row[1] for row in SETTING_TABLE if row[3:] == (0, 1))


class Change(NamedTuple):
    """A setting to be stored: its id, its name on the wire, its key, the new value in steps of the wire."""

    setting: int
    name: str
    key: str
    value: int


class Difference(NamedTuple):
    """A setting that is not as bench.toml says."""

    key: str
    stored: str
    wanted: str


def shown(name: str, value: int) -> str:
    """A value of the wire as people write it."""
    spelling = SPELLINGS[name]
    if name in _YES_NO_NAMES:
        return "yes" if value else "no"
    if spelling.kind is None:
        return str(value)
    return f"{value / spelling.per_unit * spelling.shown:g} {spelling.unit}"


def rows(settings: Settings) -> list[tuple[str, str, str, int]]:
    """Key, value as people write it, name on the wire, value on the wire; for every setting."""
    names = [row[1] for row in SETTING_TABLE]
    return [
        (SPELLINGS[name].key, shown(name, value), name, value)
        for name, value in zip(names, settings, strict=True)
    ]


def parse_change(text: str) -> Change:
    """`ceiling=40 rpm`, `pedal_fitted=no` or, by the name on the wire, `ceiling_mrpm=40000`.

    BadInput names the setting, the value, the limits and how to write it.
    """
    name_typed, found, value_typed = text.partition("=")
    name_typed, value_typed = name_typed.strip(), value_typed.strip()
    if not found:
        raise BadInput(f"board settings: '{printable(text)}' has no '='; write NAME=VALUE")
    for setting, name, _, least, most in SETTING_TABLE:
        if name_typed in (name, SPELLINGS[name].key):
            value = _value(name, name_typed, value_typed)
            if not least <= value <= most:
                limits = f"{shown(name, least)} to {shown(name, most)}"
                raise BadInput(
                    f"board settings: {name_typed}: {printable(value_typed)} is outside {limits}; "
                    "change it and try again"
                )
            return Change(setting, name, SPELLINGS[name].key, value)
    known = ", ".join(spelling.key for spelling in SPELLINGS.values())
    raise BadInput(f"board settings: '{printable(name_typed)}' is not a setting; known are {known}")


def _value(name: str, typed_name: str, text: str) -> int:
    spelling = SPELLINGS[name]
    if name in _YES_NO_NAMES:
        if text.lower() not in YES_NO:
            raise BadInput(f"board settings: {typed_name}: '{printable(text)}' is neither yes nor no")
        return YES_NO[text.lower()]
    if spelling.kind is None or (typed_name == name and typed_name != spelling.key):
        if not re.fullmatch(r"[0-9]{1,10}", text, re.ASCII):
            raise BadInput(f"board settings: {typed_name}: '{printable(text)}' is not a whole number")
        return int(text)
    if spelling.kind is RAMP:
        text = text.replace("rad/s2", "rad/s^2").replace("rad/", "radian/")
    try:
        return round(units.read(text, spelling.kind) * spelling.per_unit)
    except BadInput as error:
        raise BadInput(f"board settings: {typed_name}: {error}") from error


def _wanted(name: str, plan: BoardPlan) -> int | None:
    """What a plan asks of a setting, in steps of the wire; None where it says nothing."""
    spelling = SPELLINGS[name]
    value = getattr(plan, spelling.field, None)
    return None if value is None else round(value * spelling.per_unit)


def differences(settings: Settings, plan: BoardPlan) -> list[Difference]:
    """Where the board's stored settings are not as the plan has them."""
    found = []
    for key, stored, name, value in rows(settings):
        wanted = _wanted(name, plan)
        if wanted is not None and wanted != value:
            found.append(Difference(key, stored, shown(name, wanted)))
    return found


def plan_of(settings: Settings, board_id: str) -> BoardPlan:
    """What a board has stored, as the plan for bench.toml. The service lock is a state, not a plan."""
    values: dict[str, object] = {"id": board_id or None}
    for key, _, name, value in rows(settings):
        spelling = SPELLINGS[name]
        if name in _YES_NO_NAMES:
            values[key] = bool(value)
        elif spelling.kind is not None:
            values[key] = value / spelling.per_unit
        else:
            values[key] = value
    del values["service_lock"]
    return BoardPlan.model_validate(values, context={"si": True})
