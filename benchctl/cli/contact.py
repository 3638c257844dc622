"""`benchctl contact`: solve one contact, or a list of them, from a JSON file."""

from __future__ import annotations

import argparse
import json
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from benchctl.units import PRESSURE, TORQUE, Kind, in_system, mark_of

_LIMIT_BYTES = 4_000_000
_SHOWN: tuple[tuple[str, str, float, str | Kind], ...] = (
    ("contact area", "contact_area_m2", 1e4, "cm2"),
    ("overhang", "overhang_fraction", 100.0, "%"),
    ("mean pressure", "mean_pressure_pa", 1.0, PRESSURE),
    ("least pressure", "pressure_min_pa", 1.0, PRESSURE),
    ("spin ratio", "spin_ratio", 1.0, ""),
    ("stall torque", "stall_torque_nm", 1.0, TORQUE),
    ("table torque", "table_torque_nm", 1.0, TORQUE),
    ("friction power", "friction_power_w", 1.0, "W"),
    ("mean removal", "mean_rate_m_per_s", 3.6e9, "um/h"),
    ("evenness, CV", "evenness_cv", 100.0, "%"),
    ("edge over centre", "edge_over_centre", 1.0, ""),
)
"""Words, key, factor and unit; a kind of quantity instead of a unit is shown in the units chosen."""


def add_parser(subparsers: Any) -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "contact",
        help="solve one contact of lap and mirror",
        description="Where the lap lies, how it presses and how it spins, for one case or a list of them. "
        "docs/physics.md has the keys of a case; for a mirror's file use `benchctl plan`.",
    )
    parser.add_argument(
        "case", metavar="CASE.json", help="a case, or a list of cases, in SI units; - reads standard input"
    )
    parser.add_argument("--json", action="store_true", help="one JSON value on standard output")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Solve and print; BadInput names the place in a list, the key, the limit and what to do."""
    from benchctl.physics.solve import solve_contact

    given = _read(args.case)
    cases = given if isinstance(given, list) else [given]
    answers = [
        _solve(solve_contact, case, i if isinstance(given, list) else None) for i, case in enumerate(cases)
    ]
    if args.json:
        print(json.dumps(answers if isinstance(given, list) else answers[0], allow_nan=False))
        return 0
    from benchctl.models.preferences import preferences

    system = preferences(args.units).units
    for answer in answers:
        _show(answer, system)
    return 0


def _solve(solve: Any, case: Any, place: int | None) -> dict[str, Any]:
    from benchctl.errors import BadInput

    try:
        answer: dict[str, Any] = solve(case)
    except BadInput as error:
        if place is None:
            raise
        raise BadInput(f"case [{place}], {error}") from error
    return answer


def _read(name: str) -> Any:
    from benchctl.errors import BadInput

    try:
        with nullcontext(sys.stdin.buffer) if name == "-" else Path(name).open("rb") as file:
            raw = file.read(_LIMIT_BYTES + 1)
    except OSError as error:
        raise BadInput(
            f"cannot read {name}: {(error.strerror or 'unreadable').lower()}; check the path"
        ) from error
    if len(raw) > _LIMIT_BYTES:
        raise BadInput(f"{name}: is too large, over {_LIMIT_BYTES} bytes; split the list")
    try:
        return json.loads(raw)
    except (ValueError, RecursionError) as error:
        raise BadInput(f"{name}: not valid JSON: {error}; see docs/physics.md for the keys") from error


def _show(answer: dict[str, Any], system: str) -> None:
    for words, key, factor, unit in _SHOWN:
        value = answer[key]
        print(f"{words:18} {'none' if value is None else _with_unit(value * factor, unit, system)}")
    state = "the lap is held by the drag at the post" if answer["stalled"] else "the lap turns"
    print(state)
    for warning in answer["warnings"]:
        print(f"note: {warning}")
    print()


def _with_unit(value: float, unit: str | Kind, system: str) -> str:
    if isinstance(unit, Kind):
        return f"{in_system(value, unit, system):.4g} {mark_of(unit, system)}"
    return f"{value:.4g} {unit}".rstrip()
