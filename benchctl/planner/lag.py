"""What a lagging lap does to the glass, and what a measured lag says about the post.

A lag has two causes that look alike: drag at the post (dry, tilted or tight), and a load that does not act at
the lap's centre (weights off centre, a post that carries tilt), which pulls like a drag of -mu W x_p near
step (derived). So a figure for one is given together with the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchctl.physics.case import Case
from benchctl.physics.checks import finite
from benchctl.physics.evenness import survey
from benchctl.physics.friction import friction
from benchctl.physics.solve import Steady, steady_state
from benchctl.planner.sweet_spot import mean_rate, turning_of

_HALVINGS = 36
CAUSES = (
    "drag at the post (dry, tilted or tight)",
    "a load off the lap's centre (weights, tilt)",
)


@dataclass(frozen=True)
class LagEffect:
    """What the lap turning at `spin_ratio` does: zones as shares of the own mean rate, mean rate and rim over
    centre; `post_drag_nm` is the drag that would hold it there; None: no finite value."""

    spin_ratio: float
    zone_shares: tuple[float, ...]
    edge_over_centre: float | None
    mean_rate_m_per_s: float
    post_drag_nm: float
    cv: float | None


@dataclass(frozen=True)
class LagReading:
    """A measured spin ratio read back: either this drag at the post (N m), or the load this far off the lap's
    centre towards the mirror's (m), or some of both. `of_stall` is the drag over the torque that stalls."""

    spin_ratio: float
    post_drag_nm: float
    load_off_centre_m: float
    of_stall: float
    causes: tuple[str, ...] = CAUSES


def lag_effect(case: Case, spin_ratio: float) -> LagEffect:
    """What the lap turning at a spin ratio does: the post's drag is taken to be what holds it there."""
    state, drag = held_at(case, spin_ratio)
    turning = turning_of(case, state, spin_ratio)
    found = survey(turning, case.radii_m[:1])
    mean = mean_rate(case, found)
    shares = tuple(rate / mean if mean > 0.0 else 0.0 for rate in found.zone_rates_m_per_s)
    return LagEffect(spin_ratio, shares, found.edge_over_centre, mean, drag, found.cv)


def held_at(case: Case, spin_ratio: float) -> tuple[Steady, float]:
    """The steady state with just so much drag that the lap turns at `spin_ratio`, and that drag (N m).

    At 0 and below: the drag that stalls it. At the free lap's ratio and above, where drag cannot bring it:
    the free lap, and the torque that would still have to push it (below 0).
    """
    ratio = finite("spin_ratio", spin_ratio)
    free = steady_state(with_drag(case, 0.0))
    if ratio <= 0.0:
        return steady_state(with_drag(case, abs(free.stall_torque_nm))), free.stall_torque_nm
    if ratio >= free.spin_ratio:
        return free, _push_nm(case, free, ratio)
    low, high = 0.0, abs(free.stall_torque_nm)
    for _ in range(_HALVINGS):
        drag = (low + high) / 2
        state = steady_state(with_drag(case, drag))
        low, high = (drag, high) if state.spin_ratio > ratio else (low, drag)
    return state, drag


def with_drag(case: Case, drag_nm: float) -> Case:
    """The same with another constant drag at the post, and none that grows with speed."""
    return replace(case, post_drag_nm=drag_nm, post_drag_viscous_nm_s=0.0)


def read_lag(case: Case, spin_ratio: float) -> LagReading:
    """Turn a measured spin ratio into the drag, or the misplaced load, that would make it.

    A ratio above the free lap's gives a negative drag: the load lies outward. Coulomb friction; the
    coefficient comes from the case and scales the drag.
    """
    state, drag = held_at(case, spin_ratio)
    pull, stall = case.friction_coefficient * case.load_n, state.stall_torque_nm
    off_centre = drag / pull if pull > 0.0 else 0.0
    return LagReading(spin_ratio, drag, off_centre, drag / stall if stall > 0.0 else 0.0)


def _push_nm(case: Case, state: Steady, ratio: float) -> float:
    table = case.table_rad_s
    return case.friction_coefficient * friction(case.contact, state.pressure, table, ratio * table).lap_nm
