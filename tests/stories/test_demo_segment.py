"""The main job, from the first act to the record, through the real frames and the real controller."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchctl.assembly.stepped import STEP_S
from benchctl.logbook.reader import read
from benchctl.logbook.segments import segments
from tests.stories.stages import Told

LATE_S = 2 * STEP_S + 1e-6
"""What is due by time comes within two steps of the runner."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """The demo segment of 16 minutes with an attentive person."""
    return Told(tmp_path_factory.mktemp("demo")).play()


def test_the_segment_goes_through_its_states_in_order(demo: Told) -> None:
    """Armed, turning, lap true, faster in steps, polishing, water called and answered, rest, lap lifted."""
    wanted = [
        "board_armed",
        "turning",
        "lap_true",
        "ramp",
        "ramp",
        "polish",
        "wet_down_called",
        "wet_down_answered",
        "slow_down",
        "at_rest",
        "lifted",
    ]
    assert [name for name in demo.names() if name in wanted] == wanted


def test_the_times_are_those_of_the_plan(demo: Told) -> None:
    """Water is called 60 s before the end, and the table slows at the end, within a step of the runner."""
    assert demo.at("wet_down_called") == pytest.approx(900.0, abs=LATE_S)
    assert demo.at("slow_down") == pytest.approx(960.0, abs=LATE_S)
    assert demo.record.polishing_s == pytest.approx(962.0, abs=3.0)


def test_the_record_says_what_was_done(demo: Told) -> None:
    """Completed, planned, answered; turns as the speeds and times give; the lap near what is predicted."""
    record = demo.record
    assert (record.outcome, record.stop_reason, record.stop_kind) == ("completed", None, "planned")
    assert record.wet_down == "answered"
    creep, work = demo.at("ramp") / 60 * 6.0, (960.0 - demo.at("polish")) / 60 * 26.0
    assert record.table_turns == pytest.approx(creep + work, abs=8.0)
    assert record.useful_turns <= record.table_turns
    assert record.spin_ratio_mean is not None
    assert record.spin_ratio_predicted is not None
    assert record.spin_ratio_mean == pytest.approx(record.spin_ratio_predicted, abs=0.03)
    assert record.standing_s is not None
    assert 0.0 < record.standing_s < 30.0


def test_the_lap_lags_as_its_post_drag_says(demo: Told) -> None:
    """Lag is 4 e T / (mu W a^2) for small drag in full contact (derived; the overhang here makes it a
    little less): the sensors' mean agrees with it to a quarter."""
    job = demo.parts.runner.facts.job
    drag = job.setup.post_drag_nm
    lag = 4 * job.setup.post_offset_m * drag / (job.setup.friction * job.load_n * job.lap.radius_m**2)
    assert demo.record.spin_ratio_mean is not None
    assert 1.0 - demo.record.spin_ratio_mean == pytest.approx(lag, rel=0.25)


def test_start_is_on_disk_before_the_table_turns_and_the_end_after_it_rests(demo: Told) -> None:
    """The logbook holds start and end, in order, and reads back as one closed segment."""
    book = read(demo.parts.keeper.folder)
    assert book.sound
    kinds = [entry.kind for entry in book.of_kind("segment_start", "segment_end", "correction")]
    assert kinds == ["segment_start", "segment_end", "correction"]
    [segment] = segments(book)
    assert segment.fields["outcome"] == "completed"
    assert segment.fields["standing_s"] == demo.record.standing_s


def test_the_table_does_not_turn_before_its_start_is_on_disk(tmp_path: Path) -> None:
    """With a disk that takes nothing the board is never told to run; the segment is refused."""
    told = Told(tmp_path)
    told.parts.disk.full = True
    told.play()
    assert "turning" not in told.names()
    assert told.parts.plant is not None
    assert told.parts.plant.truth().table_rpm == 0.0
    assert (told.record.outcome, told.record.stop_reason) == ("refused", "record_not_kept")


def test_same_seed_same_story(tmp_path: Path) -> None:
    """The same seed gives the same events to the last digit; another seed gives others."""
    tales = [Told(tmp_path / str(i), minutes=3.0, seed=seed).play() for i, seed in enumerate((7, 7, 8))]
    first, again, other = (json.dumps([*tale.events, tale.record.model_dump()]) for tale in tales)
    assert first == again
    assert first != other


def test_nobody_answers_the_call_for_water(tmp_path: Path) -> None:
    """It creeps at 8 rpm or less for 90 s, calling; then a controlled stop, recorded as unwetted."""
    told = Told(tmp_path, minutes=3.0, operator="absent").play()
    assert told.at("waiting_for_water") == pytest.approx(180.0, abs=LATE_S)
    assert told.at("stopping") == pytest.approx(270.0, abs=LATE_S)
    record = told.record
    assert (record.outcome, record.stop_reason, record.wet_down) == (
        "stopped",
        "end_unanswered",
        "unanswered",
    )
    assert record.stop_kind == "controlled_then_off"
    assert told.at("at_rest") <= 270.0 + 5.0


MISHAPS = [
    ("lap-stall", "lap_stalled", "controlled_then_off", 6.0),
    ("lap-grab", "lap_grabbed", "power_off", 1.0),
    ("dry-lap", "dry_lap", "controlled_then_off", 150.0),
    ("cable-out", "link_lost", "controlled_then_off", 1.0),
    ("overload", "overload", "power_off", 2.0),
    ("host-hang", "permit_expired", "controlled_then_off", 6.0),
    ("runaway", "overspeed", "power_off", 2.0),
    ("table-sensor-dead", "table_sensor_dead", "controlled_then_off", 3.0),
    ("estop", "estop_open", "power_off", 1.0),
    ("disk-full", "disk_full", "controlled_then_off", 40.0),
    ("pedal-stuck", "pedal_stop", "controlled_then_off", 6.0),
    ("board-reset", "brown_out", "power_off", 1.0),
    ("lap-sensor-dead", "lap_sensor_dead", "controlled_then_off", 45.0),
    ("board-hang", "watchdog_reset", "power_off", 1.5),
]


@pytest.mark.parametrize(("mishap", "reason", "kind", "within_s"), MISHAPS)
def test_a_mishap_stops_the_table_for_its_own_reason(
    tmp_path: Path, mishap: str, reason: str, kind: str, within_s: float
) -> None:
    """Each mishap ends in its own reason within its time; the table rests and stays at rest."""
    told = Told(tmp_path, f"{mishap}@110", minutes=6.0).play()
    record = told.record
    assert (record.outcome, record.stop_reason, record.stop_kind) == ("stopped", reason, kind)
    assert 110.0 <= told.at("stopping") <= 110.0 + within_s
    plant = told.parts.plant
    assert plant is not None
    plant.advance(told.stepper.now_s + 5.0)
    assert plant.truth().table_rpm == pytest.approx(0.0, abs=1e-6)
    assert record.polishing_s < 110.0 + within_s + 5.0


def test_power_that_does_not_switch_off_calls_for_the_emergency_stop(tmp_path: Path) -> None:
    """A welded relay is found once the table should rest; the call names what to press."""
    from benchctl.session.calls import current_call

    told = Told(tmp_path, "relay-welded@10", minutes=3.0).play()
    assert (told.record.outcome, told.record.stop_reason) == ("stopped", "power_not_off")
    call = current_call(told.parts.runner, told.stepper.now_s)
    assert call is not None
    assert "EMERGENCY STOP" in call.do


def test_after_a_trip_nothing_moves_without_reset_arm_and_run(tmp_path: Path) -> None:
    """A tripped board refuses to arm until it is reset, and a reset starts nothing."""
    from benchctl.session.acts import Act, Done

    told = Told(tmp_path, "lap-stall@110", minutes=6.0)
    told.stepper.run()
    runner, plant = told.parts.runner, told.parts.plant
    assert plant is not None
    for act in (Act.LOOKED, Act.NEXT, Act.ARM):
        runner.do(Done(act))
        for _ in range(40):
            told.stepper.operator = None
            told.stepper.step()
    assert runner.engine.state == "ready"
    assert told.names().count("board_armed") == 1
    assert plant.truth().board_state == "tripped"
    runner.do(Done(Act.ACKNOWLEDGE))
    runner.do(Done(Act.RESET))
    for _ in range(100):
        told.stepper.step()
    assert plant.truth().board_state == "disarmed"
    assert plant.truth().table_rpm == 0.0
    told.parts.close()
