"""`benchctl run` from outside: exit status, streams, and one sentence for what is refused."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from benchctl.assembly.build import build_simulated
from benchctl.cli.telling import Teller, finish
from benchctl.link.recording import RecordingTransport
from benchctl.models.job import demo_job, demo_job_text

EVENT_KEYS = {"at_s", "event"}


def benchctl(*words: str, home: Path, typed: str = "") -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own with an empty home."""
    return subprocess.run(
        [sys.executable, "-m", "benchctl", *words],
        input=typed,
        capture_output=True,
        text=True,
        timeout=90,
        env={"PATH": "/usr/bin:/bin", "HOME": str(home), "BENCHCTL_HOME": str(home / "bench")},
        check=False,
    )


QUICK = ("run", "demo", "--headless", "--simulated", "--pace", "max", "--minutes", "2")


def test_events_and_record_go_to_standard_output_alone(tmp_path: Path) -> None:
    """With --json each line of standard output is a JSON object; times never fall; the record is last."""
    done = benchctl(*QUICK, "--json", home=tmp_path)
    assert done.returncode == 0, done.stderr
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert lines[-1].keys() >= {"event", "outcome", "stop_kind", "wet_down"}
    assert lines[-1]["event"] == "segment_record"
    times = [line["at_s"] for line in lines[:-1]]
    assert all(line.keys() >= EVENT_KEYS for line in lines[:-1])
    assert times == sorted(times)
    assert times[0] >= 0.0
    assert "NaN" not in done.stdout


def test_without_json_people_are_told_on_standard_error(tmp_path: Path) -> None:
    """Without --json standard output stays empty and the words go to standard error."""
    done = benchctl(*QUICK, home=tmp_path)
    assert done.returncode == 0
    assert done.stdout == ""
    assert "Called for water" in done.stderr


def test_a_stop_for_a_fault_exits_with_3(tmp_path: Path) -> None:
    """Stopped by a fault: exit status 3, the record written, and what to do in words."""
    done = benchctl(*QUICK, "--mishap", "lap-stall@50", home=tmp_path)
    assert done.returncode == 3
    summary, last = done.stderr.splitlines()[-2:]
    assert summary.startswith("SIMULATED: stopped; ")
    assert f"wet-down not reached; kept in {tmp_path}" in summary
    assert last.startswith("The lap has stopped turning (")
    assert "Wet the edge of the lap now. " in last


def test_a_lost_link_exits_with_4(tmp_path: Path) -> None:
    """The cable out in the middle: exit status 4 and the record all the same."""
    done = benchctl(*QUICK, "--json", "--mishap", "cable-out@50", home=tmp_path)
    assert done.returncode == 4
    assert json.loads(done.stdout.splitlines()[-1])["stop_reason"] == "link_lost"


def test_a_recording_that_ended_early_is_told(tmp_path: Path) -> None:
    """The disk took no more of the wire's bytes: it is said in the end, whatever else was."""
    job = demo_job().with_minutes(3.0)
    parts = build_simulated(job, tmp_path / "log", seed=1, stepped=True, record=str(tmp_path / "wire"))
    assert isinstance(parts.transport, RecordingTransport)
    parts.transport._lines.failed = "No space left on device"
    told = io.StringIO()
    finish(parts, Teller(as_json=False, to=told), as_json=False, unkept=parts.close())
    assert "the recording ended before its time: No space left on device" in told.getvalue()


def test_mishaps_are_listed_one_a_line(tmp_path: Path) -> None:
    """Each of the 26 mishaps has one line, its name first."""
    done = benchctl("run", "--list-mishaps", home=tmp_path)
    assert done.returncode == 0
    names = [line.split()[0] for line in done.stdout.splitlines()]
    assert len(names) == len(set(names)) == 26
    assert {"lap-stall", "cable-out", "host-hang", "estop"} <= set(names)


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (("run",), 2, "no job was given"),
        (("run", "demo"), 2, "--simulated, or --port"),
        (("run", "nothing.toml", "--headless", "--simulated"), 2, "cannot read job file nothing.toml"),
        ((*QUICK[:-1], "-3"), 2, "--minutes: segment.length"),
        ((*QUICK[:-1], "nan"), 2, "--minutes: segment.length"),
        ((*QUICK, "--mishap", "nonsense@3"), 2, "'nonsense' is not known"),
        ((*QUICK, "--mishap", "lap-stall"), 2, "lap-stall"),
        ((*QUICK, "--mishap", "lap-stall@nan"), 2, "lap-stall"),
        (("run", "demo", "--headless", "--port", "/dev/no-such-port", "--start"), 4, "is not there"),
        (("run", "demo", "--headless", "--port", "x", "--mishap", "estop@3"), 2, "simulated bench only"),
    ],
)
def test_what_is_refused_gets_one_sentence(
    tmp_path: Path, words: tuple[str, ...], status: int, sentence: str
) -> None:
    """Exit 2 for refused input, 4 for a port; one line that says what is wrong; nothing is written."""
    done = benchctl(*words, home=tmp_path)
    assert done.returncode == status
    (line,) = done.stderr.strip().splitlines()
    assert sentence in line
    assert done.stdout == ""
    assert not list(tmp_path.rglob("logbook.jsonl"))


def test_a_bad_job_file_is_refused_by_field(tmp_path: Path) -> None:
    """500 rpm in a job file: the file, the field, the value and the limit."""
    job = tmp_path / "fast.toml"
    job.write_text(demo_job_text().replace('"26 rpm"', '"500 rpm"'))
    done = benchctl("run", str(job), "--headless", "--simulated", home=tmp_path)
    assert done.returncode == 2
    assert done.stderr.strip().endswith(
        "segment.work_speed: 500 rpm must be at most 60 rpm; change it and try again"
    )


def test_without_a_terminal_the_demo_runs_by_itself(tmp_path: Path) -> None:
    """`benchctl` in a pipe: the whole segment in lines, SIMULATED said, exit status 0."""
    done = benchctl(home=tmp_path)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("SIMULATED")
    assert lines[-1].startswith("SIMULATED: completed; 16.0 min")
    assert any("Called for water" in line for line in lines)
