"""The plant: two rotors, friction, motor and water, against independent solutions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp  # type: ignore[import-untyped]

from benchctl.models.job import demo_job
from benchctl.physics.contact import Contact
from benchctl.physics.friction import friction_torques
from benchctl.physics.pressure import solve_pressure
from benchctl.physics.spin import predicted_spin
from benchctl.simulator.bench import RAD_S, Bench, inertias
from tests.simulator.raw_host import EVEN, demo_face


def turning(rpm: float, seconds: float) -> Bench:
    """An even bench that has run for a while at a speed, freshly wetted."""
    bench = Bench(demo_job(), 1, EVEN, demo_face())
    bench.powered, bench.command_rpm = True, rpm
    while bench.now_s < seconds:
        bench.film.wet()
        bench.advance(0.01)
    return bench


def contact() -> Contact:
    job = demo_job()
    return Contact(job.mirror.radius_m, job.lap.radius_m, job.setup.post_offset_m, job.mirror.hole_radius_m)


@pytest.mark.parametrize("rpm", [3.0, 6.0, 26.0, 45.0])
def test_the_lap_spins_as_predicted(rpm: float) -> None:
    """At every speed the lap settles at the ratio that the spin solver finds for this set-up."""
    job = demo_job()
    expected = predicted_spin(
        contact(),
        load_n=job.load_n,
        friction_coefficient=job.setup.friction,
        post_drag_nm=job.setup.post_drag_nm + EVEN.post_drag_viscous_nm_s * rpm * RAD_S,
    )
    bench = turning(rpm, 12.0)
    assert bench.table_rpm == pytest.approx(rpm, abs=0.01)
    assert bench.lap_rad_s / bench.table_rad_s == pytest.approx(expected, abs=1e-3)


def test_power_balances() -> None:
    """The motor gives what rubbing, bearings and post take (energy balance), to a thousandth."""
    job, bench = demo_job(), turning(26.0, 12.0)
    on_lap, on_table, _ = bench.face.at(bench.table_rad_s, bench.lap_rad_s)
    friction = job.setup.friction
    rubbing = friction * (on_table * bench.table_rad_s - on_lap * bench.lap_rad_s)
    post = (job.setup.post_drag_nm + EVEN.post_drag_viscous_nm_s * bench.lap_rad_s) * bench.lap_rad_s
    given = bench.drive.torque_nm * bench.table_rad_s
    assert given == pytest.approx(rubbing + post + EVEN.bearing_drag_nm * bench.table_rad_s, rel=1e-3)


def test_the_demo_takes_two_fifths_of_its_motor() -> None:
    """At 26 rpm with wet work the load reads about 40 % of rated torque."""
    bench = turning(26.0, 12.0)
    assert 380 <= bench.load_permille() <= 430


def test_coasting_agrees_with_a_reference_solver() -> None:
    """With the power cut at 26 rpm both speeds follow SciPy's solve_ivp (Radau, tolerance 1e-9) on the
    direct friction integrals to 0.05 rad/s at 5 ms steps."""
    job, bench = demo_job(), turning(26.0, 12.0)
    where, friction = contact(), job.setup.friction
    pressure = solve_pressure(where, job.load_n)
    table_j, lap_j = inertias(job, EVEN.weights_radius_share)

    def change(_: float, speeds: np.ndarray) -> list[float]:
        table, lap = float(speeds[0]), float(speeds[1])
        on_lap, on_table = friction_torques(where, pressure, table, lap)
        post = job.setup.post_drag_nm + EVEN.post_drag_viscous_nm_s * lap
        return [
            (-friction * on_table - EVEN.bearing_drag_nm) / table_j,
            (friction * on_lap - post) / lap_j,
        ]

    times = np.arange(1, 29) * 0.005
    start = [bench.table_rad_s, bench.lap_rad_s]
    exact = solve_ivp(change, (0, 0.141), start, method="Radau", t_eval=times, rtol=1e-9, atol=1e-9).y
    bench.powered = False
    for i in range(len(times)):
        bench.step(0.005)
        assert bench.table_rad_s == pytest.approx(exact[0, i], abs=0.05)
        assert bench.lap_rad_s == pytest.approx(exact[1, i], abs=0.05)


def test_all_comes_to_rest_and_stays() -> None:
    """Without power the lap brakes the table within half a second from 35 rpm, and nothing creeps after."""
    bench = turning(35.0, 12.0)
    bench.powered = False
    while bench.table_rad_s or bench.lap_rad_s:
        bench.advance(0.01)
        assert bench.now_s < 12.5
    angles = bench.table_rad, bench.lap_rad
    for _ in range(1000):
        bench.advance(0.01)
    assert (bench.table_rad, bench.lap_rad) == angles


def test_a_bare_table_coasts() -> None:
    """With the lap off, 26 rpm die in J w / T of bearing drag: seconds, not tenths."""
    bench = turning(26.0, 12.0)
    bench.lift_lap()
    bench.powered = False
    expected = bench.table_inertia * bench.table_rad_s / EVEN.bearing_drag_nm
    while bench.table_rad_s:
        bench.advance(0.01)
    assert bench.now_s - 12.0 == pytest.approx(expected, rel=0.02)
    assert expected > 3.0


def test_more_drag_than_the_face_can_overcome_stalls_the_lap() -> None:
    """Just below the stall torque the lap creeps on, just above it stands still."""
    for share, stands in ((0.98, False), (1.02, True)):
        bench = turning(26.0, 12.0)
        bench.post.job_drag_nm = share * demo_job().setup.friction * bench.face.stall_nm
        for _ in range(1000):
            bench.film.wet()
            bench.advance(0.01)
        assert (bench.lap_rad_s == 0.0) is stands, (share, bench.lap_rpm)


def test_edges_come_where_the_targets_are() -> None:
    """Interpolated crossings of evenly placed targets give the true speed to 1e-5 in every gap."""
    bench = turning(26.0, 12.0)
    bench.table_edges.clear()
    bench.lap_edges.clear()
    speeds = []
    for _ in range(1000):
        bench.film.wet()
        bench.advance(0.01)
        speeds.append(bench.lap_rad_s)
    gaps = np.diff(bench.table_edges)
    assert gaps == pytest.approx(np.full(len(gaps), 60.0 / 26.0 / 24), rel=1e-5)
    lap_gaps = np.diff(bench.lap_edges)
    assert lap_gaps == pytest.approx(np.full(len(lap_gaps), 2 * math.pi / np.mean(speeds) / 12), rel=1e-4)


def test_the_film_dries_and_friction_follows() -> None:
    """Unwetted, the demo's film is gone in ten to twelve minutes at 26 rpm and friction is up by 35 %."""
    bench = Bench(demo_job(), 1, EVEN, demo_face())
    bench.powered, bench.command_rpm = True, 26.0
    while bench.film.wetness > 0.0:
        bench.advance(0.01)
    assert 9.5 * 60 < bench.now_s < 12.5 * 60
    assert bench.friction == pytest.approx(1.35 * demo_job().setup.friction)
    bench.film.wet()
    assert bench.friction == pytest.approx(demo_job().setup.friction)


def test_inertias_of_the_demo() -> None:
    """Glass 0.39 and table 0.26 kg m2 (worked out beforehand for this job, two digits); lap and weights
    m r^2/2 + sum of m r^2."""
    table_j, lap_j = inertias(demo_job(), 0.5)
    assert table_j == pytest.approx(0.39 + 0.26, abs=0.01)
    assert lap_j == pytest.approx(0.5 * 5.3 * 0.155**2 + 14.0 * 0.06**2, rel=1e-9)


def test_same_seed_same_bench() -> None:
    """Two benches of one seed agree to the last bit, one of another seed does not."""
    runs = []
    for seed in (7, 7, 8):
        bench = Bench(demo_job(), seed, face=demo_face())
        bench.powered, bench.command_rpm = True, 14.0
        for _ in range(1500):
            bench.advance(0.01)
        runs.append((bench.lap_rad, bench.table_rad, tuple(bench.lap_edges), bench.load_permille()))
    assert runs[0] == runs[1] != runs[2]


def test_the_lap_wanders_as_a_healthy_lap_does() -> None:
    """After the jerk of the start the ratio's spread is 1 to 4 %, and the start is rougher than that."""
    bench = Bench(demo_job(), 3, face=demo_face())
    bench.powered, bench.command_rpm = True, 26.0
    early, late = [], []
    while bench.now_s < 200.0:
        bench.advance(0.01)
        if 3.5 < bench.now_s < 12.0:
            early.append(bench.lap_rad_s / bench.table_rad_s)
        elif bench.now_s > 80.0:
            late.append(bench.lap_rad_s / bench.table_rad_s)
    assert 0.01 < float(np.std(late)) < 0.04
    assert float(np.std(early)) > 2 * float(np.std(late))


def test_a_finer_step_changes_little() -> None:
    """A tenth of the step gives the same turns after 20 s of ramp and running, to 0.02 turns."""
    turns = []
    for constants in (EVEN, replace(EVEN, step_s=0.0005, control_s=0.001)):
        bench = Bench(demo_job(), 1, constants, demo_face())
        bench.powered = True
        steps = round(20.0 / constants.control_s)
        for i in range(steps):
            bench.command_rpm = min(26.0, 4.8 * i * constants.control_s)
            bench.advance(constants.control_s)
        turns.append((bench.table_rad / (2 * math.pi), bench.lap_rad / (2 * math.pi)))
    assert turns[0] == pytest.approx(turns[1], abs=0.02)
