"""The tabulated friction of the face, checked against the functions that it was made from."""

from __future__ import annotations

import math
from random import Random

import pytest

from benchctl.models.job import demo_job
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction_torques
from benchctl.physics.pressure import solve_pressure
from tests.simulator.raw_host import demo_face


def demo_contact() -> Contact:
    job = demo_job()
    return Contact(job.mirror.radius_m, job.lap.radius_m, job.setup.post_offset_m, job.mirror.hole_radius_m)


@pytest.mark.parametrize(("least", "most", "share"), [(0.0, 0.95, 1e-4), (-math.pi, math.pi, 1e-3)])
def test_the_table_is_the_contact_itself(least: float, most: float, share: float) -> None:
    """Between its points the table agrees with the direct integrals, to a share of the largest torque.

    1e-4 while the lap turns no faster than 1.4 times the table, and 1e-3 for any two speeds: a slip centre
    on the mirror's rim (the lap 2.3 times as fast as the table) makes a bend that straight lines cut.
    """
    contact, face, random = demo_contact(), demo_face(), Random(4)
    pressure = solve_pressure(contact, demo_job().load_n)
    within = share * face.stall_nm
    for _ in range(400):
        angle = random.uniform(least, most)
        table, lap = math.cos(angle), math.sin(angle)
        speed = random.uniform(0.1, 4.0)
        on_lap, on_table, _ = face.at(speed * table, speed * lap)
        direct_lap, direct_table = friction_torques(contact, pressure, table, lap)
        assert on_lap == pytest.approx(direct_lap, abs=within)
        assert on_table == pytest.approx(direct_table, abs=within)


def test_both_torques_are_slopes_of_one_power() -> None:
    """The stiffness found from the lap's slope alone and from the table's slope alone is the same number."""
    contact = demo_contact()
    pressure = solve_pressure(contact, demo_job().load_n)
    step = 1e-4
    for angle in (0.2, 0.5, 0.7, 0.785, 0.9, 1.2):
        below, above = (
            friction_torques(contact, pressure, math.cos(angle + d), math.sin(angle + d))
            for d in (-step, step)
        )
        from_lap = -(above[0] - below[0]) / (2 * step) / math.cos(angle)
        from_table = -(above[1] - below[1]) / (2 * step) / math.sin(angle)
        assert from_lap == pytest.approx(from_table, rel=1e-5)
        assert demo_face().at(math.cos(angle), math.sin(angle))[2] == pytest.approx(from_lap, rel=2e-2)
