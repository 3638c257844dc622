"""How much a kept segment removed, for the weights of its mark: by the mechanics, from its record alone.

In newton metres times turns of the table: mean depth times the glass's area over 2 pi k. For a lap that
turns with the mirror under its whole load this is load x offset x turns, whatever the lap's size (Preston
1927, from memory; derived in docs/physics.md); a lap that lags removes another amount.
The Preston coefficient and the area are the same for all segments of a mirror and drop out of every share.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from benchctl.errors import BadInput
from benchctl.physics.contact import Contact
from benchctl.physics.evenness import Turning, survey, zone_bounds_m
from benchctl.physics.pressure import solve_pressure

_SPIN_STEP = 0.005
_NO_RADII = np.empty(0)


def work_removed(fields: Mapping[str, Any]) -> float:
    """What a segment record with the facts of its start says was removed, in N m turns.

    Turns count whether useful or not: what a skating lap removes prints as well. Where the record lacks the
    geometry (older ones do) or the lap would miss the glass, load x offset x turns.
    """
    turns, load, offset = (number(fields, name) for name in ("table_turns", "load_n", "post_offset_m"))
    if not turns or turns < 0.0:
        return 0.0
    load, offset = load or 1.0, 1.0 if offset is None else offset
    mirror, lap = number(fields, "mirror_radius_m"), number(fields, "lap_radius_m")
    if mirror is None or lap is None:
        return turns * load * offset
    hole, spin = number(fields, "mirror_hole_radius_m") or 0.0, number(fields, "spin_ratio_mean")
    steps = round((1.0 if spin is None else spin) / _SPIN_STEP)
    try:
        return turns * load * _arm_m(mirror, lap, round(offset, 5), hole, steps)
    except BadInput:
        return turns * load * offset


@lru_cache(maxsize=1024)
def _arm_m(mirror_m: float, lap_m: float, offset_m: float, hole_m: float, spin_steps: int) -> float:
    """Work per newton and turn, in metres: the offset, where the lap turns with the mirror."""
    contact = Contact(mirror_m, lap_m, offset_m, hole_m)
    found = survey(
        Turning(contact, solve_pressure(contact, 1.0), 1.0, spin_steps * _SPIN_STEP, 1.0), _NO_RADII
    )
    areas = math.pi * np.diff(np.square(zone_bounds_m(contact)))
    return float(areas @ np.asarray(found.zone_rates_m_per_s))


def number(fields: Mapping[str, Any], name: str) -> float | None:
    """A field of a record as a finite number; None where it is missing or is none."""
    value = fields.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)
