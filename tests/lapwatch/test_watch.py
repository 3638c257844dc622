"""The lap watcher on hand-made spins: each state, and each way in which a watcher was once led astray."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from benchctl.errors import BadInput
from benchctl.lapwatch import LapWatch
from benchctl.lapwatch.geometry import LoadPrediction
from benchctl.lapwatch.states import ALARMS
from tests.lapwatch.spins import Spin, settings

UNEVEN = (0.0, 0.19, 0.32, 0.51, 0.65, 0.85)
GEOMETRY = (0.22, 0.155, 0.1, 0.0)


def wander(ratio: float) -> Callable[[float, float], float]:
    """A healthy lap: 2 % of wander in 7 s and 1 % once a turn."""
    return lambda at_s, lap: (
        ratio * (1.0 + 0.02 * math.sin(at_s * 0.9) + 0.01 * math.cos(2.0 * math.pi * lap + 0.4))
    )


def changed(
    before: Callable[[float, float], float], at: float, factor: float
) -> Callable[[float, float], float]:
    """The same lap with its ratio multiplied from a time on."""
    return lambda at_s, lap: before(at_s, lap) * (factor if at_s >= at else 1.0)


def stopping_load(at: float, ratio: float, share: float = 0.95) -> Callable[[float], float]:
    """A load that rises at a time by most of what geometry predicts for a stop."""
    jump = LoadPrediction(*GEOMETRY).jump(ratio)
    return lambda at_s: 40.0 * (1.0 + (share * jump if at_s >= at else 0.0))


@pytest.mark.parametrize("targets", [1, 2, 3, 4, 6, 8, 12])
def test_healthy_lap_is_steady_within_ten_turns(targets: int) -> None:
    """A healthy lap with uneven targets is steady within 10 turns, for 1 to 12 targets, and stays so."""
    places = tuple((k + 0.1 * math.sin(5.0 * k)) / targets for k in range(targets))
    spin = Spin(LapWatch(settings(targets)), wander(0.8), offsets=places)
    spin.run(25.0)
    assert spin.states[-1][1] == "steady", spin.states
    spin.run(120.0)
    assert not ALARMS & set(spin.seen()), spin.states
    assert spin.watch.verdict.spin_ratio == pytest.approx(0.8, rel=0.05)


def test_ratio_is_free_of_table_speed() -> None:
    """A table that sags by 30 % and a change of speed raise no alarm: counting is in mirror angle."""
    sag = Spin(
        LapWatch(settings()),
        wander(0.85),
        rpm=lambda t: 30.0 - 9.0 * min(1.0, max(0.0, t - 40.0)) + (8.0 if t > 60.0 else 0.0),
    )
    sag.run(90.0)
    assert not ALARMS & set(sag.seen()), sag.states


def test_sudden_stop_is_named_within_a_gap() -> None:
    """A lap that stops is called stalled within 1.5 gaps of the moment at which its next target was due."""
    spin = Spin(LapWatch(settings()), changed(wander(0.8), 50.0, 0.0), stopping_load(50.0, 0.8))
    spin.run(55.0)
    gap_s = 60.0 / (30.0 * 0.8 * 6.0)
    when = next(at_s for at_s, state in spin.states if state == "stalled")
    assert when - 50.0 < gap_s + 1.5 * gap_s
    assert spin.seen(50.0) == ["stalled"]
    assert spin.watch.verdict.spin_now is not None
    assert spin.watch.verdict.spin_now < 0.1


def test_dead_pickup_is_told_from_a_stop() -> None:
    """A pickup that dies while the load stays is no_signal, not stalled."""
    spin = Spin(LapWatch(settings()), wander(0.8), lost=lambda n: n > 100)
    spin.run(70.0)
    assert spin.seen(20.0)[-1] == "no_signal", spin.states
    assert "stalled" not in spin.seen()


def test_without_load_a_silent_lap_counts_as_stopped() -> None:
    """Where the load is not measured, absent targets are treated as a stop, and the words say why."""
    spin = Spin(LapWatch(settings()), wander(0.8), lost=lambda n: n > 100)
    spin.watch.status = _without_load(spin.watch)  # type: ignore[method-assign]
    spin.run(70.0)
    assert spin.seen()[-1] == "stalled"
    assert "treat as stopped" in spin.watch.verdict.words


@pytest.mark.parametrize("targets", [1, 6, 12])
@pytest.mark.parametrize("last_s", [9.5, 12.0])
def test_a_pickup_that_dies_while_the_lap_settles_is_told_from_a_stop(targets: int, last_s: float) -> None:
    """Before the lap is steady too, the load tells a dead pickup from a stop."""
    dead = Spin(
        LapWatch(settings(targets, load_jump=0.15)),
        wander(0.8),
        lambda at_s: 20.0 + 20.0 * min(1.0, at_s / 3.0),
        lambda at_s: 30.0 * min(1.0, at_s / 3.0),
        lost=lambda number: number > (last_s - 1.5) * 0.4 * targets,
    )
    dead.run(40.0)
    assert dead.seen()[-1] == "no_signal", dead.states
    assert not {"stalled", "steady"} & set(dead.seen())
    stop = Spin(LapWatch(settings(targets)), changed(wander(0.8), last_s, 0.0), stopping_load(last_s, 0.8))
    stop.run(40.0)
    assert stop.seen()[-1] == "stalled", stop.states
    assert "no_signal" not in stop.seen()


def test_a_dead_pickup_is_not_called_a_stop_later() -> None:
    """Silence of ten minutes stays no_signal while the load wanders by half a stop's rise; a whole one is."""

    def load(at_s: float) -> float:
        return 40.0 * (1.0 + 0.05 * math.sin(at_s / 9.0) + (0.1 if at_s >= 650.0 else 0.0))

    spin = Spin(LapWatch(settings(load_jump=0.1)), wander(0.8), load, lost=lambda number: number > 120)
    spin.run(650.0)
    assert spin.seen()[-1] == "no_signal", spin.states
    assert "stalled" not in spin.seen()
    spin.run(660.0)
    assert spin.seen(650.0) == ["stalled"], spin.states


def test_a_small_rise_of_load_hastens_a_stop() -> None:
    """With a rise of 6 % a stop is called within two gaps of its due target, without a rise after more."""
    gap_s = 60.0 / (30.0 * 0.8 * 6.0)
    took = []
    for rise in (0.06, 0.0):
        watch = LapWatch(settings(load_jump=0.05))
        steps = Spin(
            watch,
            changed(wander(0.8), 50.0, 0.0),
            lambda at_s, rise=rise: 40.0 * (1.0 + rise * (at_s >= 50.0)),
        )
        steps.run(60.0)
        took.append(next(at_s for at_s, state in steps.states if state == "stalled") - 50.0)
    assert took[0] < 3.0 * gap_s < took[1], took


def _without_load(watch: LapWatch) -> Callable[[float, float, float, float | None], None]:
    status = LapWatch.status
    return lambda at_s, set_rpm, table_rpm, load: status(watch, at_s, set_rpm, table_rpm, None)


@pytest.mark.parametrize("targets", [6, 12])
def test_jerk_is_alarmed_and_named(targets: int) -> None:
    """A jerk of severity 0.45 once a turn raises an alarm within 2 turns and is named jerky within 3."""

    def jerking(at_s: float, lap: float) -> float:
        return 0.6 * (1.0 + (0.45 * math.cos(2.0 * math.pi * lap) if at_s >= 50.0 else 0.0))

    spin = Spin(LapWatch(settings(targets)), jerking)
    spin.run(62.0)
    turn_s = 60.0 / (30.0 * 0.6)
    alarms = [at_s for at_s, state in spin.states if state in ALARMS]
    jerky = [at_s for at_s, state in spin.states if state == "jerky"]
    assert alarms, spin.states
    assert 50.0 <= alarms[0] < 50.0 + 2.0 * turn_s, spin.states
    assert jerky, spin.states
    assert jerky[0] < 50.0 + 3.0 * turn_s
    assert spin.watch.summary().severity_worst == pytest.approx(0.45, abs=0.1)


def test_slow_loss_is_warned_before_18_percent() -> None:
    """A lap that loses its speed over a minute and a half is called slowing before 18 % are gone."""

    def drying(at_s: float, lap: float) -> float:
        return wander(0.85)(at_s, lap) * max(0.0, 1.0 - max(0.0, at_s - 60.0) / 90.0)

    spin = Spin(LapWatch(settings()), drying)
    spin.run(90.0)
    when = next(at_s for at_s, state in spin.states if state == "slowing")
    assert 60.0 < when < 60.0 + 0.18 * 90.0
    assert "of what it did 30 s ago" in spin.watch.verdict.reason


def test_a_rising_load_hastens_the_warning_of_a_slow_loss() -> None:
    """A lap that loses its speed over 40 s is warned of sooner where the load rises as geometry says."""

    def left(at_s: float) -> float:
        return max(0.0, 1.0 - max(0.0, at_s - 60.0) / 40.0)

    took = []
    for jump in (0.4, 0.0):
        rising = Spin(
            LapWatch(settings(load_jump=0.4)),
            lambda at_s, lap: wander(0.85)(at_s, lap) * left(at_s),
            lambda at_s, jump=jump: 40.0 * (1.0 + jump * (1.0 - left(at_s) ** 1.75)),
        )
        rising.run(80.0)
        took.append(next(at_s for at_s, state in rising.states if state == "slowing") - 60.0)
    assert 0.0 < took[0] < took[1] < 0.2 * 40.0, took


def test_lap_off_its_post_is_fast() -> None:
    """A lap that turns with the mirror while the load is gone is fast, and stays so."""
    spin = Spin(
        LapWatch(settings()),
        lambda t, lap: 0.9 if t < 50.0 else 1.0,
        lambda t: 40.0 if t < 50.0 else 8.0,
    )
    spin.run(80.0)
    assert spin.seen(50.0) == ["fast"]
    assert spin.watch.verdict.load_ratio == pytest.approx(0.2, abs=0.05)


def test_weak_pickup_is_named() -> None:
    """A pickup that loses every third target is a weak signal, not a slow or jerking lap."""
    spin = Spin(LapWatch(settings()), wander(0.8), lost=lambda n: n > 100 and n % 3 == 0)
    spin.run(100.0)
    assert spin.seen(40.0) == ["weak_signal"], spin.states
    assert spin.watch.summary().edges_repaired > 20


def test_half_speed_lock_does_not_last() -> None:
    """With one target and every second pulse lost at the start, the ratio is soon right afterwards."""
    spin = Spin(LapWatch(settings(1)), wander(0.8), lost=lambda n: n in (2, 4, 6))
    spin.run(60.0)
    assert spin.watch.verdict.spin_ratio == pytest.approx(0.8, rel=0.05)
    assert spin.states[-1][1] == "steady"


def test_two_targets_lost_in_a_row_raise_nothing() -> None:
    """Two targets lost in a row, again and again, do not slip the index nor make the lap seem to jerk."""
    spin = Spin(LapWatch(settings()), wander(0.8), offsets=UNEVEN, lost=lambda n: n > 60 and n % 40 in (0, 1))
    spin.run(200.0)
    assert not {"jerky", "slowing", "stalled"} & set(spin.seen()), spin.states


def test_load_window_outlasts_a_slow_single_target() -> None:
    """With one target at 5 rpm a stop is still proven, though it takes longer than a short load history."""
    spin = Spin(
        LapWatch(settings(1)), changed(wander(0.8), 200.0, 0.0), stopping_load(200.0, 0.8), rpm=lambda t: 5.0
    )
    spin.run(240.0)
    assert spin.seen(200.0)[-1] == "stalled", spin.states


def test_slow_stop_is_stalled_although_load_crept_up_with_it() -> None:
    """A lap that slows to a stop is slowing first and stalled in the end; the load base does not hide it."""
    jump = LoadPrediction(*GEOMETRY).jump(0.85)

    def left(at_s: float) -> float:
        return max(0.0, 1.0 - max(0.0, at_s - 60.0) / 60.0)

    spin = Spin(
        LapWatch(settings()),
        lambda t, lap: 0.85 * left(t),
        lambda t: 40.0 * (1.0 + jump * (1.0 - left(t) ** 1.75)),
    )
    spin.run(140.0)
    seen = spin.seen(60.0)
    assert seen[0] == "slowing"
    assert seen[-1] == "stalled"


def test_half_grab_is_not_read_as_every_second_pulse_lost() -> None:
    """A lap that suddenly turns at half its speed is alarmed as slowing, not taken for a weak pickup."""
    spin = Spin(LapWatch(settings()), changed(wander(0.8), 50.0, 0.5), stopping_load(50.0, 0.8, share=0.65))
    spin.run(60.0)
    assert spin.seen(50.0)[0] in ("slowing", "stalled")
    assert "weak_signal" not in spin.seen()


def test_one_lost_pulse_at_a_re_wet_step_is_no_stop() -> None:
    """A single lost pulse together with 8 % more load is not a stop where geometry predicts far more."""
    spin = Spin(
        LapWatch(settings()),
        wander(0.8),
        lambda t: 40.0 * (1.08 if t > 50.0 else 1.0),
        lost=lambda n: n == 118,
    )
    spin.run(80.0)
    assert not ALARMS & set(spin.seen()), spin.states


def test_bounce_is_thrown_out() -> None:
    """Every third target bouncing raises nothing and leaves the ratio alone."""
    spin = Spin(LapWatch(settings()), wander(0.8), bounce=lambda n: n % 3 == 0)
    spin.run(80.0)
    assert not ALARMS & set(spin.seen()), spin.states
    assert spin.watch.verdict.spin_ratio == pytest.approx(0.8, rel=0.05)


def test_turning_again_leaves_stalled_by_way_of_settling() -> None:
    """After a stop, 1.5 lap turns lead to settling and five calm ones to steady."""
    spin = Spin(
        LapWatch(settings()),
        lambda t, lap: 0.0 if 50.0 <= t < 55.0 else 0.8,
        lambda t: 40.0 * (1.4 if 50.0 <= t < 55.0 else 1.0),
    )
    spin.run(90.0)
    assert spin.seen(50.0) == ["stalled", "settling", "steady"], spin.states


def test_memory_starts_the_next_watch_knowing() -> None:
    """Placement and reference ratio of one watch are kept for the next of the same set-up."""
    spin = Spin(LapWatch(settings()), wander(0.8), offsets=UNEVEN)
    memory = spin.run(60.0).memory()
    placement = memory["placement"]
    assert isinstance(placement, list)
    true = [(b - a) % 1.0 for a, b in zip(UNEVEN, (*UNEVEN[1:], 1.0), strict=True)]
    turned = [[*true[k:], *true[:k]] for k in range(6)]
    assert min(max(abs(a - b) for a, b in zip(placement, row, strict=True)) for row in turned) < 0.01
    again = Spin(LapWatch.restored(settings(), memory), wander(0.8), offsets=UNEVEN)
    again.run(16.0)
    assert again.states[-1][1] == "steady"
    turns = [lap_turns_at(next(at_s for at_s, s in one.states if s == "steady")) for one in (spin, again)]
    assert turns[0] > 4.9
    assert turns[1] < 4.0
    assert again.watch.verdict.reference_ratio == pytest.approx(0.8, rel=0.05)


def lap_turns_at(at_s: float) -> float:
    """Lap turns of a spin of `wander(0.8)` at 30 rpm until a time, but for its wander."""
    return 0.8 * 30.0 / 60.0 * at_s


def test_memory_of_another_ratio_asks_for_a_full_start() -> None:
    """A lap that turns 20 % off the remembered ratio is not taken for known: it must be calm for 5 turns."""
    memory = Spin(LapWatch(settings()), wander(0.8), offsets=UNEVEN).run(60.0).memory()
    slow = Spin(LapWatch.restored(settings(), memory), wander(0.64), offsets=UNEVEN)
    slow.run(30.0)
    steady_s = next(at_s for at_s, state in slow.states if state == "steady")
    assert 0.64 * 0.5 * steady_s > 4.9


def test_a_target_that_comes_after_all_takes_back_a_stop() -> None:
    """A lap that was called stopped but passes its next target slowly is slowing, not stopped, at once."""
    spin = Spin(
        LapWatch(settings()),
        lambda t, lap: 0.8 if not 50.0 <= t < 52.0 else 0.36,
        stopping_load(50.0, 0.8),
    )
    spin.run(53.0)
    assert spin.seen(50.0)[:2] == ["stalled", "slowing"], spin.states
    stalled, slowing = (at_s for at_s, _ in spin.states[-2:])
    assert slowing - stalled < 0.5


def lower_level(targets: int = 6) -> Spin:
    """A lap that turns at 0.7 of its speed from 50 s on, with the load unchanged."""
    return Spin(LapWatch(settings(targets)), changed(wander(0.8), 50.0, 0.7))


def test_the_person_may_accept_a_new_level() -> None:
    """After 20 calm turns at a lower level the person may take it as normal; it is the reference then."""
    spin = lower_level()
    assert not spin.watch.accept_level()
    spin.run(80.0)
    assert spin.watch.state == "slowing"
    assert not spin.watch.can_accept_level
    assert not spin.watch.accept_level()
    assert spin.watch.state == "slowing"
    spin.run(130.0)
    assert spin.watch.state == "slowing"
    assert spin.watch.can_accept_level
    assert spin.watch.accept_level()
    assert spin.watch.state == "settling"
    assert not spin.watch.can_accept_level
    spin.run(170.0)
    assert spin.seen(131.0) == ["steady"]
    assert spin.watch.verdict.reference_ratio == pytest.approx(0.56, rel=0.03)


def test_a_lap_that_still_slows_cannot_be_accepted() -> None:
    """A lap whose level goes on falling is never calm for 20 turns, so nothing can be accepted."""
    spin = Spin(LapWatch(settings()), lambda t, lap: 0.8 * math.exp(-max(0.0, t - 50.0) / 150.0))
    spin.run(135.0)
    assert spin.watch.state == "slowing"
    assert not spin.watch.can_accept_level


@pytest.mark.parametrize("targets", [1, 3, 6, 12])
def test_a_pause_in_the_record_is_no_alarm(targets: int) -> None:
    """Eight seconds in which nothing was recorded raise nothing, and a stop after them is named."""
    spin = Spin(LapWatch(settings(targets)), changed(wander(0.8), 90.0, 0.0), stopping_load(90.0, 0.8))
    watch, play = spin.watch, (spin.watch.pulse, spin.watch.status)
    spin.run(50.0)
    watch.pulse = lambda at_s: None  # type: ignore[method-assign]
    watch.status = lambda *report: None  # type: ignore[method-assign]
    spin.run(58.0)
    watch.pulse, watch.status = play  # type: ignore[method-assign]
    spin.run(89.0)
    assert spin.seen(50.0) == [], spin.states
    spin.run(96.0)
    assert spin.seen(90.0)[-1] == "stalled", spin.states


def test_a_lap_that_stopped_in_a_pause_is_stalled() -> None:
    """A lap that stands when the record goes on is called stopped when it should have been seen again."""
    spin = Spin(LapWatch(settings()), changed(wander(0.8), 55.0, 0.0), stopping_load(55.0, 0.8))
    watch, play = spin.watch, (spin.watch.pulse, spin.watch.status)
    spin.run(50.0)
    watch.pulse = lambda at_s: None  # type: ignore[method-assign]
    watch.status = lambda *report: None  # type: ignore[method-assign]
    spin.run(58.0)
    watch.pulse, watch.status = play  # type: ignore[method-assign]
    spin.run(62.0)
    assert spin.seen(58.0) == ["stalled"], spin.states


def test_summary_adds_up() -> None:
    """The summary's shares add up to 1 and hold mean, 5 and 95 % ratio, severity and load."""
    summary = Spin(LapWatch(settings()), wander(0.8)).run(60.0).summary()
    assert sum(summary.state_share.values()) == pytest.approx(1.0)
    assert summary.ratio_mean == pytest.approx(0.8, rel=0.03)
    assert summary.ratio_p05 is not None
    assert summary.ratio_p95 is not None
    assert summary.ratio_p05 < summary.ratio_mean < summary.ratio_p95
    assert summary.load_mean_percent == pytest.approx(40.0, rel=0.02)


def test_nonsense_is_refused() -> None:
    """A time, speed or load that is no number, or a geometry without contact, is refused by name."""
    watch = LapWatch(settings())
    for act in (
        lambda: watch.pulse(math.nan),
        lambda: watch.status(1.0, 30.0, math.inf, 40.0),
        lambda: watch.status(1.0, 30.0, 30.0, math.nan),
        lambda: settings(0),
        lambda: settings(6, post_offset_m=0.5),
        lambda: settings(6, placement=(0.5, 0.5)),
    ):
        with pytest.raises(BadInput):
            act()
