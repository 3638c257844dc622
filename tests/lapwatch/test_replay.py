"""Traces played back: the same verdicts as when they were recorded; a damaged trace is refused by line."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchctl.cli import main
from benchctl.errors import BadInput
from benchctl.lapwatch import LapWatch, WatchSettings
from benchctl.lapwatch.replay import head_of, replay
from benchctl.lapwatch.settings import remembering
from tests.stories.stages import Told

HEAD = {
    "targets_per_turn": 6,
    "clock_tick_s": 0.001,
    "mirror_radius_m": 0.34,
    "lap_radius_m": 0.19,
    "post_offset_m": 0.15,
}


def even_trace(ratio: float, seconds: float, stops_at_s: float | None = None) -> Iterator[str]:
    """A lap of 6 even targets at 30 rpm of the table, true, until it may stop."""
    yield json.dumps(HEAD)
    gap_s = 60.0 / (30.0 * ratio * 6)
    lines = [
        (
            i * 0.05,
            {
                "status_s": i * 0.05,
                "set_rpm": 30.0,
                "table_rpm": 30.0,
                "load_percent": 40.0 if stops_at_s is None or i * 0.05 < stops_at_s else 52.0,
            },
        )
        for i in range(int(seconds / 0.05))
    ]
    turning_s = seconds if stops_at_s is None else stops_at_s
    lines += [(i * gap_s, {"pulse_s": round(i * gap_s, 3)}) for i in range(int(turning_s / gap_s))]
    yield from (json.dumps(fields) for _, fields in sorted(lines, key=lambda line: line[0]))


def test_a_true_lap_becomes_steady_and_stays(tmp_path: Path) -> None:
    """Even pulses for two minutes: settling, then steady, and nothing else after it."""
    states = [change.verdict.state for change in replay(even_trace(0.9, 120.0), "even")]
    assert states[-1] == "steady"
    assert set(states) <= {"waiting", "settling", "steady"}


def test_a_stop_is_named_within_two_gaps() -> None:
    """A lap that stops with the load rising is stalled within 1.5 gaps of the time its next target is due."""
    gap_s = 60.0 / (30.0 * 0.9 * 6)
    changes = list(replay(even_trace(0.9, 100.0, stops_at_s=60.0), "stop"))
    stalled = next(change for change in changes if change.verdict.state == "stalled")
    assert 60.0 < stalled.at_s <= 60.0 + 2.5 * gap_s


@pytest.mark.parametrize("mishap", ["lap-stall@100", "jerky-lap@60", "lap-sensor-noisy@60", "tight-post@60"])
def test_a_recorded_segment_plays_back_to_the_same_changes(tmp_path: Path, mishap: str) -> None:
    """The trace of a segment gives, played back, the changes of state told while it ran, when too."""
    told = Told(tmp_path, mishap, minutes=3.0).play()
    (trace,) = tmp_path.glob("traces/*.jsonl")
    first, *played = replay(trace.read_text().splitlines(), "trace")
    live = [event for event in told.events if event["event"] == "lap_state"]
    assert first.verdict.state == "waiting"
    assert [change.verdict.state for change in played[: len(live)]] == [event["state"] for event in live]
    began_s = [change.at_s - event["at_s"] for change, event in zip(played, live, strict=False)]
    assert max(began_s) - min(began_s) < 0.3


def test_what_was_known_of_the_lap_is_in_the_head_of_its_trace() -> None:
    """A watcher that remembers writes placement and ratio into the head, and a replay begins with them."""
    known = remembering(WatchSettings(**HEAD), {"placement": [1 / 6] * 6, "reference_ratio": 0.9})
    head = json.dumps(head_of(LapWatch(known)))
    lines = list(even_trace(0.9, 60.0))
    cold, warm = (
        next(
            change.at_s for change in replay([first, *lines[1:]], "trace") if change.verdict.state == "steady"
        )
        for first in (lines[0], head)
    )
    assert warm < cold


def test_table_edges_measure_the_mirror_angle() -> None:
    """With edges of the table the spin ratio is right although the reported table speed is 20 % too low.

    Without the edges the ratio of the same trace is 20 % too high, 1 / 0.8 of the true 0.75.
    """
    head = json.dumps(HEAD | {"table_edges_per_turn": 24})
    lines = [(0.05 * i, {"status_s": 0.05 * i, "set_rpm": 24.0, "table_rpm": 24.0}) for i in range(1200)]
    lines += [(t, {"pulse_s": t}) for t in (0.001 + i / (0.5 * 0.75 * 6) for i in range(134))]
    edges = [(t, {"table_pulse_s": t}) for t in (0.0005 + i / (0.5 * 24) for i in range(719))]
    for more, ratio in ((edges, 0.75), ([], 0.75 / 0.8)):
        ordered = [json.dumps(fields) for _, fields in sorted([*lines, *more], key=lambda line: line[0])]
        last = list(replay([head, *ordered], "edges"))[-1].verdict
        assert last.state == "steady"
        assert last.spin_ratio == pytest.approx(ratio, rel=0.01)


@pytest.mark.parametrize(
    "lines",
    [
        [],
        [json.dumps({"pulse_s": 0.5 * i}) for i in range(40)],
        [json.dumps({"status_s": 0.1 * i, "set_rpm": 24, "table_rpm": 24}) for i in range(40)],
    ],
)
def test_a_trace_in_which_no_lap_turns_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], lines: list[str]
) -> None:
    """Without targets, or without reports of a turning table, a person is told what is missing."""
    trace = tmp_path / "empty.jsonl"
    trace.write_text("\n".join([json.dumps(HEAD), *lines]), encoding="utf-8-sig")
    assert main(["watch", str(trace)]) == 0
    assert "never seen to turn" in capsys.readouterr().out.splitlines()[-1]
    assert main(["watch", "--json", str(trace)]) == 0
    assert "never" not in capsys.readouterr().out


@pytest.mark.parametrize("missing", ["set_rpm", "table_rpm"])
def test_one_speed_stands_for_the_other(missing: str) -> None:
    """Where a report holds only one of the two speeds, the verdicts are those of a table that holds it.

    A count of targets written as 6.0 is the count 6.
    """
    whole = list(even_trace(0.75, 60.0, stops_at_s=50.0))
    poor = [
        json.dumps({key: value for key, value in json.loads(line).items() if key != missing})
        for line in whole
    ]
    poor[0] = json.dumps(HEAD | {"targets_per_turn": 6.0})
    told = [(change.at_s, change.verdict.state) for change in replay(whole, "whole")]
    assert told[-1][1] == "stalled"
    assert [(change.at_s, change.verdict.state) for change in replay(poor, "poor")] == told


@pytest.mark.parametrize(
    ("targets", "said"), [(1, "1 target: a jerk once a turn cannot be seen"), (3, "3 targets:"), (6, "")]
)
def test_the_person_is_told_what_few_targets_cannot_show(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], targets: int, said: str
) -> None:
    """`benchctl watch` says once a trace what so few targets cannot show, in text only; six show all."""
    trace = tmp_path / "few.jsonl"
    turning = ['{"status_s": 0.5, "set_rpm": 30, "table_rpm": 30}', '{"pulse_s": 1.0}']
    trace.write_text("\n".join([json.dumps(HEAD | {"targets_per_turn": targets}), *turning]))
    assert main(["watch", str(trace)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert (len(lines) == 3 and said in lines[0]) if said else len(lines) == 2
    assert main(["watch", "--json", str(trace)]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 2


@pytest.mark.parametrize(
    ("lines", "complaint"),
    [
        ([], "the trace is empty"),
        (["[]"], "line 1: not a JSON object"),
        (['{"targets_per_turn": 6}'], "line 1: clock_tick_s is missing"),
        ([json.dumps(HEAD | {"targets_per_turn": 0})], "line 1: targets_per_turn"),
        ([json.dumps(HEAD), "{"], "line 2: not a JSON object"),
        ([json.dumps(HEAD), '{"x": 1}'], "line 2: neither pulse_s nor status_s"),
        ([json.dumps(HEAD), '{"pulse_s": NaN}'], "line 2: pulse_s is nan"),
        ([json.dumps(HEAD), '{"pulse_s": 2.0}', '{"pulse_s": 1.0}'], "line 3: 1 s comes after 2 s"),
        ([json.dumps(HEAD), '{"status_s": 1.0, "set_rpm": true}'], "line 2: set_rpm is True"),
        ([json.dumps(HEAD), '{"status_s": 1.0, "load_percent": 3}'], "line 2: set_rpm is None"),
        ([json.dumps(HEAD), '{"status_s": -1, "set_rpm": 1}'], "line 2: status at -1.0 s"),
        ([json.dumps(HEAD | {"placement": [0.5, "x"]})], "line 1: placement is 'x'"),
        ([json.dumps(HEAD | {"targets_per_turn": 6.5})], "line 1: targets_per_turn: 6.5"),
    ],
)
def test_a_damaged_trace_is_refused_by_line(lines: list[str], complaint: str) -> None:
    """Trace, line, and what is wrong, in one sentence."""
    with pytest.raises(BadInput, match="trace") as refusal:
        list(replay(lines, "trace"))
    assert complaint in str(refusal.value)
