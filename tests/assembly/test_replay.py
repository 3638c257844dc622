"""A recorded segment run again: the same events, commands and record; and what is told if not."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchctl.assembly.build import Parts, build_on_port, build_simulated
from benchctl.assembly.ports import open_port
from benchctl.assembly.replay import Replay
from benchctl.assembly.stepped import Stepper
from benchctl.clock import SystemClock
from benchctl.errors import BadInput
from benchctl.link.recording import parse_line, read_recording
from benchctl.models.job import demo_job
from benchctl.models.segment_record import SegmentRecord
from benchctl.segment.states import State
from benchctl.session import runner
from benchctl.session.acts import Act, Done
from benchctl.session.live import BenchLoop
from benchctl.simulator.mishaps import parse_mishap
from benchctl.simulator.operator import Operator
from tests.cli.served import served

Events = list[dict[str, object]]


def simulated(tmp_path: Path, events: Events, *mishaps: str, draw_marks: bool = False) -> Parts:
    """A short demo segment on the simulated bench, recorded in `wire`."""
    return build_simulated(
        demo_job().with_minutes(1.5),
        tmp_path / "book",
        seed=3,
        mishaps=[parse_mishap(text) for text in mishaps],
        stepped=True,
        draw_marks=draw_marks,
        listen=events.append,
        record=str(tmp_path / "wire"),
    )


def played(tmp_path: Path, *mishaps: str, operator: str = "attentive") -> tuple[Events, SegmentRecord]:
    """The events and the record of a recorded segment."""
    events: Events = []
    parts = simulated(tmp_path, events, *mishaps)
    Stepper(parts, Operator(operator, 3)).run()
    parts.close()
    record = parts.runner.books.record
    assert record is not None
    return events, record


def replayed(path: Path) -> tuple[Replay, Events]:
    """A recording run again."""
    events: Events = []
    replay = Replay(read_recording(path), events.append)
    replay.run()
    return replay, events


@pytest.mark.parametrize(
    "mishap",
    [
        "lap-stall@45",
        "cable-out@45",
        "noisy-cable@20",
        "board-reset@45",
        "disk-full@1",
        "host-hang@45",
        "estop@50",
        "clock-jump@45",
        "suspend@45",
    ],
)
def test_a_replay_goes_as_the_segment_went(tmp_path: Path, mishap: str) -> None:
    """With whatever mishap: every event at its time, every write and the record are the same."""
    events, record = played(tmp_path, mishap)
    replay, again = replayed(tmp_path / "wire")
    assert replay.difference == ""
    assert again == events
    assert replay.records == [record]
    sent = [chunk for chunk in read_recording(tmp_path / "wire") if chunk.way == "out"]
    assert replay.written == len(sent) > 300


def test_an_absent_person_is_replayed(tmp_path: Path) -> None:
    """A segment that nobody wets ends by its own clock in the replay too."""
    events, record = played(tmp_path, operator="absent")
    replay, again = replayed(tmp_path / "wire")
    assert (replay.difference, again, replay.records) == ("", events, [record])
    assert record.wet_down == "unanswered"


def test_two_segments_and_their_drawn_marks(tmp_path: Path) -> None:
    """A session of two segments gives two records, each with the mark that was drawn for it at random."""
    events: Events = []
    parts = simulated(tmp_path, events, draw_marks=True)
    records = []
    stepper = Stepper(parts, Operator("attentive", 3))
    stepper.run()
    records.append(parts.runner.books.record)
    parts.runner.do(Done(Act.NEXT))
    stepper.operator = Operator("attentive", 3)
    for _ in range(20):
        stepper.step()
    for act in (Act.ARM, Act.RUN, Act.STOP):
        parts.runner.do(Done(act))
        for _ in range(60 if act is Act.RUN else 8):
            stepper.step()
    stepper.run()
    records.append(parts.runner.books.record)
    parts.close()
    replay, again = replayed(tmp_path / "wire")
    assert replay.difference == ""
    assert again == events
    assert replay.records == records
    first, second = replay.records
    assert first.mark is not None
    assert second.mark not in (None, first.mark)


def test_a_segment_on_a_port_in_lifes_time(tmp_path: Path) -> None:
    """Recorded from a bench loop in its thread, a port and a threaded logbook, it is replayed exactly."""
    events: Events = []
    with served(tmp_path / "port"):
        transport, _ = open_port(str(tmp_path / "port"), str(tmp_path / "wire"))
        parts = build_on_port(demo_job(), tmp_path / "book", transport, listen=events.append)
        loop = BenchLoop(parts.runner, SystemClock())
        loop.start()
        live(loop, lambda: parts.link.owned and parts.link.settings is not None)
        SystemClock().sleep(2.0)
        loop.do(Done(Act.ARM))
        live(loop, lambda: parts.runner.engine.state is State.ARMED)
        SystemClock().sleep(0.7)
        loop.do(Done(Act.RUN))
        live(loop, lambda: parts.runner.at_s(parts.runner.at.now_s) > 3.0)
        loop.do(Done(Act.STOP))
        live(loop, lambda: parts.runner.engine.state is State.STANDING)
        loop.stop_and_close()
        parts.close()
    replay, again = replayed(tmp_path / "wire")
    assert replay.difference == ""
    assert again == events
    assert [one.stop_reason for one in replay.records] == ["person"]
    assert replay.records == [parts.runner.books.record]


def live(loop: BenchLoop, met: Any) -> None:
    """Wait with a face that answers, 12 s at most."""
    for _ in range(240):
        loop.answer()
        if met():
            return
        SystemClock().sleep(0.05)
    raise AssertionError("not within 12 s")


def test_a_program_that_does_otherwise_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that renews less often than the recorded one differs, and the sentence says where."""
    played(tmp_path, "lap-stall@45")
    monkeypatch.setattr(runner, "RENEW_EVERY_S", 0.2)
    replay, _ = replayed(tmp_path / "wire")
    assert "recorded program sent" in replay.difference
    assert "Renew" in replay.difference
    assert "this one: nothing" in replay.difference


def test_an_act_left_out_is_told(tmp_path: Path) -> None:
    """Without the act that ran the table the replay differs from that very step on."""
    played(tmp_path, "lap-stall@45")
    lines = [json.loads(line) for line in (tmp_path / "wire").read_text().splitlines()]
    acts = [line for line in lines if line.get("acts") == [["run", ""]]]
    at_s = acts[0]["now_s"]
    del acts[0]["acts"]
    (tmp_path / "cut").write_text("".join(json.dumps(line) + "\n" for line in lines))
    replay, _ = replayed(tmp_path / "cut")
    assert replay.difference.startswith(f"at {at_s:.3f} s ")
    assert "this one: nothing" in replay.difference


def test_a_recording_cut_off_is_replayed_to_its_end(tmp_path: Path) -> None:
    """Whatever byte a recording ends at, what is whole of it goes as it went."""
    events, _ = played(tmp_path, "lap-stall@45")
    whole = (tmp_path / "wire").read_bytes()
    (tmp_path / "cut").write_bytes(whole[: len(whole) * 2 // 3])
    replay, again = replayed(tmp_path / "cut")
    assert replay.difference == ""
    assert again == events[: len(again)]
    assert len(again) > 3


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"way": "session", "job": {}}, "job"),
        ({"way": "session", "owner": "me"}, "begun with"),
        ({"way": "step", "now_s": -1.0}, "time runs backwards"),
        ({"way": "step", "acts": [["leap", ""]]}, "leap"),
        ({"way": "step", "now_s": None}, "cannot be read"),
        ({"way": "step", "starts_kept": float("inf")}, "cannot be read"),
    ],
)
def test_a_damaged_line_is_refused(tmp_path: Path, change: dict[str, object], words: str) -> None:
    """A line that holds what it cannot hold is refused in a sentence."""
    parts = simulated(tmp_path, [])
    stepper = Stepper(parts, None)
    for _ in range(3):
        stepper.step()
    parts.close()
    lines = [json.loads(line) for line in (tmp_path / "wire").read_text().splitlines()]
    next(line for line in reversed(lines) if line["way"] == change["way"]).update(change)
    (tmp_path / "bad").write_text("".join(json.dumps(line) + "\n" for line in lines))
    with pytest.raises(BadInput, match=words):
        replayed(tmp_path / "bad")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@pytest.fixture(scope="module")
def few_lines(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """The lines of a short recording in which the bench is armed."""
    folder = tmp_path_factory.mktemp("few")
    parts = simulated(folder, [])
    stepper = Stepper(parts, None)
    for number in range(20):
        if number == 12:
            parts.runner.do(Done(Act.ARM))
        stepper.step()
    parts.close()
    return [json.loads(line) for line in (folder / "wire").read_text().splitlines()]


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_anything_told_is_replayed_or_refused(few_lines: list[dict[str, Any]], data: st.DataObject) -> None:
    """Whatever stands in a line of a segment, it is run or refused in a sentence; nothing else is raised."""
    lines = [dict(line) for line in few_lines]
    told = [line for line in lines if line["way"] in ("session", "step")]
    line = data.draw(st.sampled_from(told))
    names = [name for name in line if name not in ("at_s", "way")]
    more = ["acts", "mark", "clocks", "room", "starts_kept", "disk_ok", "face_ok", "memory"]
    line[data.draw(st.sampled_from(names + more))] = data.draw(JSON)
    chunks = [parse_line(json.dumps(line), "line") for line in lines]
    with contextlib.suppress(BadInput):
        Replay(chunks).run()


def test_a_recording_without_a_segment_is_refused(tmp_path: Path) -> None:
    """What a check recorded has no steps: it cannot be run again, and the sentence says what can."""
    (tmp_path / "wire").write_text('{"at_s": 0.5, "way": "in", "hex": "00"}\n')
    with pytest.raises(BadInput, match="holds no segment"):
        replayed(tmp_path / "wire")
