"""Cases to try: worked ones with their answers, and invented ones over the whole range."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

WORKED: dict[str, Any] = json.loads(
    Path(__file__).with_name("contact_cases.json").read_text(encoding="utf-8")
)

PLAIN: dict[str, Any] = {
    "mirror_radius_m": 0.23,
    "lap_radius_m": 0.155,
    "post_offset_m": 0.128,
    "hole_radius_m": 0.031,
    "load_n": 189.0,
    "friction_coefficient": 0.4,
    "table_speed_rad_per_s": 2.7,
    "preston_per_pa": 6e-13,
}


def case(**changed: Any) -> dict[str, Any]:
    """A plain case with some keys changed."""
    return PLAIN | changed


@st.composite
def geometries(draw: st.DrawFn, hole: bool = True) -> dict[str, float]:
    """Lap on mirror with contact, of any proportion; metres."""
    mirror = draw(st.floats(0.05, 1.5))
    lap = mirror * draw(st.floats(0.15, 1.4))
    hole_radius = mirror * draw(st.floats(0.0, 0.6)) if hole and draw(st.booleans()) else 0.0
    low = max(0.0, 1.01 * hole_radius - lap)
    offset = low + (0.99 * (mirror + lap) - low) * draw(st.floats(0.0, 1.0))
    return {
        "mirror_radius_m": mirror,
        "lap_radius_m": lap,
        "post_offset_m": offset,
        "hole_radius_m": hole_radius,
    }


@st.composite
def balanced_geometries(draw: st.DrawFn) -> dict[str, float]:
    """Lap whose centre lies over glass well inside the rim, so that a load there can be held."""
    mirror = draw(st.floats(0.05, 1.5))
    lap = mirror * draw(st.floats(0.3, 1.3))
    hole = mirror * draw(st.floats(0.0, 0.3)) if draw(st.booleans()) else 0.0
    offset = mirror * draw(st.floats(0.02, 0.85))
    return {
        "mirror_radius_m": mirror,
        "lap_radius_m": lap,
        "post_offset_m": max(offset, hole - 0.5 * lap, 1e-3 * mirror),
        "hole_radius_m": hole,
    }
