"""Every file that is read, mutated at will: it is read, or refused in one sentence."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchctl.cli import main
from benchctl.errors import BadInput
from benchctl.lapwatch.replay import replay
from benchctl.link.recording import parse_line
from benchctl.logbook.lines import FIRST_PREV, Kind, encode
from benchctl.logbook.reader import FILE_NAME, parse
from benchctl.models.bench_config import BenchConfig, as_toml, configured_bench
from benchctl.models.job import demo_job_text, parse_job
from benchctl.models.preferences import preferences
from firmware_protocol.settings import DEFAULTS, SETTING_TABLE, load, store
from tests.logbook.books import AT, COMPLETED, PLAN

FEW = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=20_000, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def mutants(draw: st.DrawFn, whole: bytes) -> bytes:
    """A file with one to four stretches changed, taken out, put in or doubled."""
    data = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 40)))
        how = draw(st.sampled_from(["change", "cut", "double", "word"]))
        if how == "cut":
            del data[start:end]
        elif how == "double":
            data[start:start] = data[start:end]
        elif how == "word":
            data[start:end] = draw(st.sampled_from(WORDS))
        else:
            data[start:end] = draw(st.binary(max_size=8))
    return bytes(data)


WORDS = [
    *(b"nan", b"inf", b"-inf", b"1e309", b"1" * 400, b"[" * 60, b"{" * 60, b'"', b"'''", b"\\u0000", b"\x00"),
    *(b"\xff\xfe", "１２".encode(), "\u202e".encode(), b"null", b"true", b"-1", b"= =", b"\n", b"../../etc"),
]

ANYTHING = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**20), 10**20),
        st.floats(allow_nan=False),
        st.text(max_size=20),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
KINDS: list[Kind] = [
    *("session_start", "segment_start", "segment_end", "segment_interrupted", "inspection"),
    *("mark_draw", "press", "note", "correction", "decision"),
]
"""JSON values of any shape, and the kinds of record that a logbook holds."""


def sentence(error: BadInput) -> None:
    """A refusal is one line that can be shown."""
    assert str(error)
    assert "\n" not in str(error).strip()
    assert "\x1b" not in str(error)


def read_job(raw: bytes) -> None:
    try:
        parse_job(raw, "job.toml")
    except BadInput as error:
        sentence(error)


@FEW
@given(mutants(demo_job_text().encode()))
def test_a_job_file_is_read_or_refused(raw: bytes) -> None:
    """A mutated job file is a job or BadInput."""
    read_job(raw)


@pytest.mark.long
@pytest.mark.timeout(3600)
@MANY
@given(mutants(demo_job_text().encode()))
def test_many_job_files(raw: bytes) -> None:
    """The same, many times."""
    read_job(raw)


@contextmanager
def home() -> Iterator[Path]:
    """A configuration folder of its own."""
    before = os.environ.get("BENCHCTL_HOME")
    with tempfile.TemporaryDirectory() as name:
        os.environ["BENCHCTL_HOME"] = name
        try:
            yield Path(name)
        finally:
            os.environ.pop("BENCHCTL_HOME")
            if before is not None:
                os.environ["BENCHCTL_HOME"] = before


@FEW
@given(mutants(as_toml(BenchConfig(port="/dev/ttyACM0")).encode()), st.booleans())
def test_a_bench_file_is_read_or_refused(raw: bytes, preferred: bool) -> None:
    """A mutated bench.toml or preferences.toml is read or BadInput."""
    with home() as folder:
        (folder / ("preferences.toml" if preferred else "bench.toml")).write_bytes(raw)
        try:
            preferences() if preferred else configured_bench()
        except BadInput as error:
            sentence(error)


TRACE = (
    '{"targets_per_turn": 6, "clock_tick_s": 0.001, "mirror_radius_m": 0.34, "lap_radius_m": 0.19, '
    '"post_offset_m": 0.15}\n'
    + "".join(f'{{"pulse_s": {0.3 * i:.3f}}}\n' for i in range(1, 20))
    + '{"status_s": 6.0, "set_rpm": 30.0, "table_rpm": 29.9, "load_percent": 41.2}\n'
)


@FEW
@given(mutants(TRACE.encode()))
def test_a_trace_is_replayed_or_refused(raw: bytes) -> None:
    """A mutated trace gives changes of state or BadInput."""
    try:
        list(replay(raw.decode("utf-8", "replace").splitlines(), "trace"))
    except BadInput as error:
        sentence(error)


RECORDED = [
    b'{"at_s": 0.5, "way": "in", "hex": "00ff12"}',
    b'{"at_s": 0.5, "way": "lost", "hex": "", "why": "x"}',
]


@FEW
@given(st.sampled_from(RECORDED).flatmap(mutants))
def test_a_recording_is_read_or_refused(raw: bytes) -> None:
    """A mutated line of a recording is a chunk or BadInput."""
    try:
        chunk = parse_line(raw, "here")
    except BadInput as error:
        sentence(error)
    else:
        assert 0.0 <= chunk.at_s < float("inf")


@FEW
@given(mutants(store(DEFAULTS)))
def test_stored_settings_are_sound_or_none(raw: bytes) -> None:
    """The board takes settings within their limits, or none."""
    found = load(raw)
    if found is not None:
        assert all(row[3] <= value <= row[4] for row, value in zip(SETTING_TABLE, found, strict=True))


CASE = (
    b'{"mirror_radius_m": 0.23, "lap_radius_m": 0.15, "post_offset_m": 0.12, "load_n": 180.0, '
    b'"friction_coefficient": 0.4, "pressure_law": "uniform", "friction_law": "coulomb"}'
)


@settings(FEW, max_examples=25)
@given(mutants(CASE))
def test_a_contact_is_solved_or_refused(raw: bytes) -> None:
    """`benchctl contact` on a mutated case ends with 0 or 2; what it prints is JSON."""
    with tempfile.TemporaryDirectory() as name, redirect_stdout(StringIO()) as out:
        path = Path(name) / "case.json"
        path.write_bytes(raw)
        with redirect_stderr(StringIO()) as err:
            assert main(["contact", str(path), "--json"]) in (0, 2)
    if out.getvalue():
        json.loads(out.getvalue())
    else:
        assert err.getvalue()


def book_of(records: list[tuple[Kind, dict[str, object]]]) -> bytes:
    """A logbook of records that are sealed as they should be, whatever they hold."""
    lines, prev = [], FIRST_PREV
    for number, (kind, fields) in enumerate(records, start=1):
        line, prev = encode(
            n=number,
            record_id=f"20260301-140203-{number:06x}",
            kind=kind,
            at=AT,
            mono_s=float(number),
            program="benchctl 0",
            prev=prev,
            fields=fields,
        )
        lines.append(line)
    return b"".join(lines)


NAMES = sorted({*PLAN, *COMPLETED, "segment", "corrects", "why", "text", "mark", "zones", "colour", "seed"})
SEALED = st.lists(
    st.tuples(
        st.sampled_from(KINDS),
        st.dictionaries(st.sampled_from(NAMES), ANYTHING | st.just("20260301-140203-000001"), max_size=8),
    ),
    max_size=6,
)


@settings(FEW, max_examples=25)
@given(SEALED)
def test_a_sealed_record_of_anything_is_shown(records: list[tuple[Kind, dict[str, object]]]) -> None:
    """Records with fields of any shape are listed, shown, exported and reported without a defect."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / FILE_NAME).write_bytes(book_of(records))
        log = ["--logbook", name]
        out = [["--csv", str(folder / "o.csv")], ["--json", str(folder / "o.json")]]
        commands = [["list"], ["list", "--json"], ["show", "1"], ["verify"], *(["export", *to] for to in out)]
        for words in [*commands, ["report", "--html", str(folder / "o.html")]]:
            with redirect_stdout(StringIO()), redirect_stderr(StringIO()) as err:
                status = main(["logbook", *words, *log])
            assert status in (0, 2, 3), f"{words}: {err.getvalue()[-300:]}"


@FEW
@given(mutants(book_of([("segment_start", dict(PLAN)), ("segment_end", dict(COMPLETED))])))
def test_a_damaged_logbook_is_read(raw: bytes) -> None:
    """The reader never raises, and gives no record that was not written."""
    whole = parse(book_of([("segment_start", dict(PLAN)), ("segment_end", dict(COMPLETED))]))
    for entry in parse(raw).entries:
        assert entry in whole.entries
