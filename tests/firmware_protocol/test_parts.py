"""The small parts of the controller: ramp, permit, edges, speed, pedal, desk."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol.desk import Desk
from firmware_protocol.edges import EdgeLine
from firmware_protocol.lease import LEASE_MS, Permit, quote_age
from firmware_protocol.pedal import Pedal
from firmware_protocol.ramp import Ramp, mrpm_per_s
from firmware_protocol.table_speed import TableSpeed


@given(st.integers(1, 8000))
def test_rate(mrad_s2: int) -> None:
    """0.001 rad/s2 is 60/(2 pi) thousandths of an rpm per second, to a part in 10,000 and never more."""
    exact = mrad_s2 * 60 / (2 * math.pi)
    assert exact * 0.9999 - 1 <= mrpm_per_s(mrad_s2) <= exact


@given(st.integers(0, 60000), st.integers(0, 60000), st.lists(st.integers(1, 300), min_size=1, max_size=200))
def test_ramp(start: int, target: int, steps: list[int]) -> None:
    """The ramp never passes its target, never turns back, and never changes faster than its rate."""
    ramp = Ramp()
    ramp.now_mrpm = start
    ramp.head_for(target, 500, 1000)
    rate = mrpm_per_s(500) if target > start else mrpm_per_s(1000)
    for dt in steps:
        before = ramp.now_mrpm
        ramp.step(dt)
        assert min(start, target) <= ramp.now_mrpm <= max(start, target)
        assert abs(ramp.now_mrpm - before) <= rate * min(dt, 50) // 1000 + 1
        assert abs(target - ramp.now_mrpm) <= abs(target - before)


def test_ramp_times() -> None:
    """26 rpm at 0.5 rad/s2 takes 5.45 s, whatever the step; fractions of a milli-rpm are not lost."""
    for dt in (1, 7, 10, 50):
        ramp = Ramp()
        ramp.head_for(26000, 500, 1000)
        passed = 0
        while ramp.now_mrpm < 26000:
            ramp.step(dt)
            passed += dt
        assert abs(passed - 26000 * 2 * math.pi / 60 / 0.5) <= dt + 2


@given(st.integers(0, 0xFFFFFFFF), st.integers(0, 5000))
def test_quote_age_across_the_wrap(quoted: int, later: int) -> None:
    """The age of a quoted time is right across the wrap of the 32-bit clock; the future has none."""
    assert quote_age(quoted, (quoted + later) & 0xFFFFFFFF) == later
    if later:
        assert quote_age((quoted + later) & 0xFFFFFFFF, quoted) == -1


@given(st.lists(st.tuples(st.integers(1, 700), st.integers(-100, 1000)), max_size=30))
def test_permit(renewals: list[tuple[int, int]]) -> None:
    """A permit lives at most 600 ms past a renewal and 800 ms past the time quoted, and never revives."""
    permit = Permit()
    permit.grant(1000)
    up, limit, dead = 1000, 1000 + LEASE_MS, False
    for wait, age in renewals:
        up += wait
        dead = dead or up >= limit
        assert permit.live(up) == (not dead)
        accepted = permit.renew(up - age, up, up)
        assert accepted == (not dead and 0 <= age <= LEASE_MS)
        if accepted:
            limit = max(limit, up + min(LEASE_MS, 800 - age))
        assert permit.left_ms(up) == (0 if dead else limit - up)


def test_permit_on_a_line_that_loses_frames() -> None:
    """With 1 % of frames lost and a renewal every 120 ms, no permit dies in 200 segments of 16 min."""
    rng = random.Random(11)
    permit = Permit()
    seen = 0
    permit.grant(0)
    for up in range(120, 200 * 960_000, 120):
        if rng.random() >= 0.01:
            seen = up - 20 - rng.randrange(100)
        assert permit.live(up), up
        if rng.random() >= 0.01:
            assert permit.renew(seen & 0xFFFFFFFF, up & 0xFFFFFFFF, up)


def test_permit_is_not_given_by_renewal() -> None:
    """Without a grant there is no permit."""
    permit = Permit()
    assert not permit.renew(0, 0, 0)
    permit.grant(0)
    permit.end()
    assert not permit.renew(0, 10, 10)


def test_debounce() -> None:
    """An edge within the debounce time is refused and counted; the gap is from accepted to accepted."""
    line = EdgeLine(2000)
    assert line.edge(1000)
    assert not line.edge(2999)
    assert line.edge(3000)
    assert (line.count, line.bounced, line.gap_us) == (2, 1, 2000)


def test_an_edge_an_hour_later_is_no_bounce() -> None:
    """Stamps wrap after 71.6 minutes: an edge that follows at once by its stamp, but not by time, counts."""
    line = EdgeLine(2000)
    assert line.edge(1_000_000)
    assert not line.edge(1_000_200)
    line.since_ms = 4_294_967
    assert line.edge(1_000_200)
    assert (line.count, line.bounced) == (2, 1)


def test_stamps_wrap() -> None:
    """Gaps are right across the wrap of the 32-bit microsecond clock."""
    line = EdgeLine(2000)
    line.edge(0xFFFFFFFF - 999)
    line.edge(4000)
    assert line.gap_us == 5000


@given(st.lists(st.integers(0, 30), max_size=20))
def test_batches(bursts: list[int]) -> None:
    """Every stamp is sent once, in order, under its own number; only an overflow of 64 shows as a step."""
    line = EdgeLine(0)
    sent: list[tuple[int, int]] = []
    stamp = 0
    for burst in bursts:
        for _ in range(burst):
            stamp += 5000
            line.edge(stamp)
        while line.waiting:
            first, stamps = line.take()
            assert 1 <= len(stamps) <= 16
            sent += [(first + i, s) for i, s in enumerate(stamps)]
    assert sent == [(n + 1, (n + 1) * 5000) for n in range(line.count)]


def test_overflow_shows() -> None:
    """Of 70 edges unsent, the first 6 are lost and the numbers say so."""
    line = EdgeLine(0)
    for n in range(70):
        line.edge(n * 5000)
    assert line.take()[0] == 7


def turning(speed: TableSpeed, mrpm: int, edges: int, start_us: int, per_turn: int = 24) -> int:
    gap = 60_000_000_000 // (per_turn * mrpm)
    for _ in range(edges):
        start_us += gap
        speed.since_ms += gap // 1000
        speed.edge(start_us & 0xFFFFFFFF, 47000, 38000)
    return start_us


@given(st.integers(1000, 40000), st.integers(0, 0xFFFFFFFF), st.sampled_from([6, 12, 24, 60]))
def test_steady_speed(mrpm: int, start_us: int, per_turn: int) -> None:
    """At a steady speed the mean is right to 0.1 %, across any wrap, with no bad edge."""
    speed = TableSpeed(per_turn)
    speed.judging = True
    turning(speed, mrpm, 20, start_us, per_turn)
    assert abs(speed.mean_mrpm - mrpm) <= mrpm // 1000 + 1
    assert (speed.bad, speed.overspeed) == (0, False)


def test_waiting_bounds_the_speed() -> None:
    """While no edge comes the speed shown falls with the wait, to 0 at rest."""
    speed = TableSpeed(24)
    turning(speed, 30000, 10, 0)
    shown = []
    for _ in range(12):
        speed.since_ms += 100
        shown.append(speed.now_mrpm())
    assert shown[0] == pytest.approx(30000, rel=0.2)
    assert shown == sorted(shown, reverse=True)
    assert shown[-1] == 0
    assert speed.at_rest()


@pytest.mark.parametrize("share", [20, 40, 60, 80])
def test_one_extra_edge(share: int) -> None:
    """One extra edge anywhere in a gap counts as one bad edge, and the speed stays within 15 %."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    gap = 60_000_000_000 // (24 * 26000)
    speed.edge(at + gap * share // 100, 31900, 38000)
    assert abs(speed.mean_mrpm - 26000) < 3900
    turning(speed, 26000, 20, at)
    assert (speed.bad, speed.overspeed) == (1, False)
    assert abs(speed.mean_mrpm - 26000) <= 30


@pytest.mark.parametrize("lost", [1, 2, 3])
def test_lost_edges(lost: int) -> None:
    """Lost edges count as one bad edge and leave the speed as it was."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    at += lost * (60_000_000_000 // (24 * 26000))
    turning(speed, 26000, 20, at)
    assert speed.bad == 1
    assert abs(speed.mean_mrpm - 26000) <= 30


def test_table_that_really_halves() -> None:
    """A table that really drops to half its speed is believed at the second gap."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    turning(speed, 13000, 2, at)
    assert abs(speed.mean_mrpm - 13000) < 200


@given(st.integers(1, 999), st.integers(1, 999), st.integers(0, 999))
def test_two_split_gaps_are_no_overspeed(first: int, second: int, third: int) -> None:
    """A stray edge in each of two gaps, and one more after another gap, wherever they fall, stop nothing."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    gap = 60_000_000_000 // (24 * 26000)
    for share in (first, second, 0, third):
        if share:
            speed.edge(at + gap * share // 1000, 26500, 38000)
        at += gap
        speed.edge(at, 26500, 38000)
    assert not speed.overspeed


def test_a_runaway_in_the_first_gaps() -> None:
    """With hardly a gap known, two fast ones that together fit it are believed at the third that shrinks."""
    speed = TableSpeed(24)
    speed.judging = True
    at = 3_243_000
    speed.edge(at, 9800, 57000)
    for gap, limit in ((225_800, 13500), (130_400, 15600), (107_200, 17600)):
        at += gap
        speed.edge(at, limit, 57000)
    assert not speed.overspeed
    speed.edge(at + 92_100, 18300, 57000)
    assert speed.overspeed


def test_exactly_double() -> None:
    """A table at exactly double its allowed speed fits the known gap each second edge; found all the same."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 13000, 20, 0)
    gap = 60_000_000_000 // (24 * 26000)
    for _ in range(14):
        at += gap
        speed.edge(at, 17000, 38000)
    assert speed.overspeed


def test_too_dense_to_be_a_table() -> None:
    """Edges that would mean over 120 rpm are bad ones, and change no speed."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    for i in range(40):
        speed.edge(at + (i + 1) * 500, 31900, 38000)
    assert speed.mean_mrpm == pytest.approx(26000, abs=30)
    assert speed.noise >= 100


def test_jitter_is_noise_and_fades() -> None:
    """Gaps that jump by 30 % to and fro are bad edges; good ones let the score fade."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    gap = 60_000_000_000 // (24 * 26000)
    for i in range(30):
        at += gap * (7 if i % 2 else 13) // 10
        speed.edge(at, 0, 38000)
    noisy = speed.noise
    assert noisy >= 100
    turning(speed, 26000, 60, at)
    assert noisy - 65 <= speed.noise <= noisy - 40


def test_not_judged_while_stopping() -> None:
    """While not judging, long gaps are taken as they are: a table that stops has no lost edges."""
    speed = TableSpeed(24)
    at = turning(speed, 26000, 20, 0)
    for factor in (2, 4, 8):
        at = turning(speed, 26000 // factor, 1, at)
    assert speed.bad == 0
    assert speed.mean_mrpm < 12000


def test_old_gap_is_forgotten() -> None:
    """After 20 s without an edge the next one begins anew; its gap says nothing of the speed."""
    speed = TableSpeed(24)
    speed.judging = True
    at = turning(speed, 26000, 20, 0)
    speed.since_ms = 25_000
    speed.edge(at + 25_000_000, 31900, 38000)
    assert (speed.mean_mrpm, speed.now_mrpm(), speed.bad) == (0, 0, 0)


def test_pedal() -> None:
    """30 ms settle a change; a press under 0.8 s counts once, at its end; one of 10 s is stuck."""
    pedal = Pedal()
    assert not pedal.step(True, 20)
    assert not pedal.step(False, 10)
    assert not pedal.pressed
    for _ in range(3):
        pedal.step(True, 10)
    assert pedal.pressed
    for _ in range(30):
        assert not pedal.step(True, 10)
    presses = [pedal.step(False, 10) for _ in range(10)]
    assert presses.count(True) == 1
    assert pedal.presses == 1
    for _ in range(90):
        pedal.step(True, 10)
    assert pedal.held()
    assert not pedal.stuck()
    for _ in range(1000):
        pedal.step(True, 10)
    assert pedal.stuck()
    assert not any(pedal.step(False, 10) for _ in range(10))
    assert pedal.presses == 1


def test_epoch_never_zero() -> None:
    """Epoch 0 means none; numbering skips it, and another start begins elsewhere."""
    desk = Desk(1)
    desk.epoch = 0xFFFF
    desk.next_epoch()
    assert desk.epoch == 1
    assert Desk(0).epoch != 0
    assert Desk(5).epoch != Desk(6).epoch
