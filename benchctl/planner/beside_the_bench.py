"""Predicted and measured side by side over the log: spin ratio, motor effort, removal.

Spin: the mechanics with the job's drag at the post. Torque: the motor's load is a percentage, not newton
metres, so both sides are taken relative to their mean over the first segments with a measurement. Removal:
what the mechanics take with the job's Preston coefficient, against what the looks say was taken.
A difference stands, and is named with its likely causes, when the last segments all lie on one side of it
and their mean is beyond a limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchctl.physics.solve import answer
from benchctl.planner.case_of import moved
from benchctl.planner.progress import ZONES, Range, Reckoning
from benchctl.planner.what_if import range_of

STANDING = 4
"""So many segments in a row make a difference a standing one."""
SPIN_LIMIT, TORQUE_LIMIT, REMOVAL_LIMIT = 0.05, 0.12, 1.25
CAUSES = {
    ("spin", "below"): "more drag at the post than the job says (dry, tilted), or weights off centre",
    ("spin", "above"): "less drag at the post than the job says: lower setup.post_drag",
    ("torque", "below"): "a glazed or starved lap, too much water, or less load on the glass than written",
    ("torque", "above"): "closing channels, a charge too thick, a warmer room (softer pitch), or more load",
    ("removal", "below"): "a coefficient below the job's: thin charge, hard or glazed pitch, harder glass",
    ("removal", "above"): "a coefficient above the job's: dense charge, soft pitch, or shallower pits",
}


@dataclass(frozen=True)
class Row:
    """One segment. Torques relative to the first ones; depth of the five zones' mean, metres."""

    number: int
    spin_predicted: float
    spin_measured: float | None
    torque_predicted_nm: float
    torque_predicted: float | None
    torque_measured: float | None
    depth_predicted_m: float
    depth_reckoned_m: Range


@dataclass(frozen=True)
class Standing:
    """A difference that stands: of what, which way, by how much, likely causes."""

    what: str
    way: str
    by: float
    segments: int

    @property
    def words(self) -> str:
        amount = f"{abs(self.by):.2f}" if self.what == "spin" else f"{abs(self.by):.0%}"
        names = {"spin": "The spin ratio", "torque": "The motor's effort", "removal": "Removal"}
        return (
            f"{names[self.what]} is {amount} {self.way} what is predicted over the last {self.segments} "
            f"segments; likely: {CAUSES[self.what, self.way]}."
        )


def side_by_side(reckoning: Reckoning) -> list[Row]:
    """A row a segment."""
    done = reckoning.history.segments
    torques = _torques_nm(reckoning)
    measured = [one.load_percent for one in done]
    first = [i for i, value in enumerate(measured) if value][:STANDING]
    base = float(np.mean([torques[i] for i in first])) if first else None
    effort = float(np.mean([measured[i] or 0.0 for i in first])) if first else None
    reckoned = [range_of(column) for column in reckoning.taken_m[:, :, :ZONES].mean(axis=2).T]
    return [
        Row(
            number=one.number,
            spin_predicted=reckoning.depths.spin_ratio(one.post_offset_m),
            spin_measured=one.spin_ratio,
            torque_predicted_nm=torque,
            torque_predicted=torque / base if base else None,
            torque_measured=one.load_percent / effort if effort and one.load_percent else None,
            depth_predicted_m=float(model[:ZONES].mean()),
            depth_reckoned_m=said,
        )
        for one, torque, model, said in zip(done, torques, reckoning.by_segment, reckoned, strict=True)
    ]


def _torques_nm(reckoning: Reckoning) -> list[float]:
    """Torque of the table by segment, as the mechanics have it; it goes with the load."""
    case, done = reckoning.depths.case, reckoning.history.segments
    per_newton = {
        offset: float(answer(moved(case, offset))["table_torque_nm"]) / case.load_n
        for offset in {one.post_offset_m for one in done}
    }
    return [per_newton[one.post_offset_m] * one.load_n for one in done]


def standing(reckoning: Reckoning, rows: Sequence[Row]) -> list[Standing]:
    """The differences that stand, named."""
    found = []
    last = rows[-STANDING:]
    spin = [row.spin_measured - row.spin_predicted for row in last if row.spin_measured is not None]
    torque = [
        row.torque_measured / row.torque_predicted - 1.0
        for row in last
        if row.torque_measured is not None and row.torque_predicted
    ]
    for what, values, limit in (("spin", spin, SPIN_LIMIT), ("torque", torque, TORQUE_LIMIT)):
        if len(values) == STANDING and _one_side(values) and abs(np.mean(values)) > limit:
            by = float(np.mean(values))
            found.append(Standing(what, "above" if by > 0 else "below", by, STANDING))
    removal = removal_ratio(reckoning)
    if removal.low > REMOVAL_LIMIT or removal.high < 1 / REMOVAL_LIMIT:
        way = "above" if removal.low > 1.0 else "below"
        found.append(Standing("removal", way, removal.likely - 1.0, len(rows)))
    return found


def removal_ratio(reckoning: Reckoning) -> Range:
    """Preston coefficient that the looks say, over the job's."""
    return range_of(reckoning.truths.preston_per_pa / reckoning.job.preston_per_pa)


def _one_side(values: Sequence[float]) -> bool:
    return all(value > 0.0 for value in values) or all(value < 0.0 for value in values)
