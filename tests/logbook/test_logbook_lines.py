"""One record as one line, and back."""

from __future__ import annotations

import json
import math
import zlib
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchctl.logbook.lines import FIRST_PREV, LINE_LIMIT_BYTES, DamagedLine, NewerLine, decode, encode

AT = datetime(2026, 3, 1, 14, 2, 3, 250_000, tzinfo=timezone(timedelta(hours=1)))

plain = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**63), 2**63)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=40),
    lambda part: st.lists(part, max_size=3) | st.dictionaries(st.text(max_size=8), part, max_size=3),
    max_leaves=8,
)
names = st.text(min_size=1, max_size=12).map(lambda text: f"x_{text}")


def line_of(fields: dict[str, object], n: int = 7) -> bytes:
    line, _ = encode(
        n=n,
        record_id="20260301-140203-aaaaaa",
        kind="note",
        at=AT,
        mono_s=12.5,
        program="benchctl 0.1.0",
        prev=FIRST_PREV,
        fields=fields,
    )
    return line


@given(st.dictionaries(names, plain, max_size=6))
def test_what_is_written_is_read_back(fields: dict[str, object]) -> None:
    """A record read back has the fields it was written with, whatever their text."""
    line = line_of(fields)
    assert line.endswith(b"\n")
    assert line.count(b"\n") == 1
    entry = decode(line.rstrip(b"\n"))
    assert entry.fields == fields
    assert (entry.n, entry.kind, entry.mono_s) == (7, "note", 12.5)


def test_a_line_is_ascii_without_control_characters() -> None:
    """A logbook can be shown on a terminal as it is: no record can hold an escape sequence."""
    line = line_of({"text": "\x1b]0;x\x07 \x9b31m \u202e ü"})
    assert all(0x20 <= byte < 0x7F for byte in line.rstrip(b"\n"))


def test_wall_time_carries_its_offset() -> None:
    """Wall time is written to the millisecond with its offset from UTC."""
    assert json.loads(line_of({}))["at"] == "2026-03-01T14:02:03.250+01:00"


def test_the_checksum_is_crc32_of_what_comes_before_it() -> None:
    """`crc` is the CRC-32 of zlib and of PNG (ISO 3309) over the line up to `,"crc"`."""
    line = line_of({"text": "x"})
    before, _, after = line.partition(b',"crc":"')
    assert int(after[:8], 16) == zlib.crc32(before)
    assert zlib.crc32(b"123456789") == 0xCBF43926  # the published check value of CRC-32/ISO-HDLC


def test_no_number_that_is_not_finite_is_written() -> None:
    """NaN and infinity become null."""
    line = line_of({"a_s": math.nan, "deep": {"b": [math.inf, 1.0]}})
    assert decode(line.rstrip()).fields == {"a_s": None, "deep": {"b": [None, 1.0]}}


@pytest.mark.parametrize("name", ["v", "n", "id", "kind", "at", "mono_s", "program", "prev", "crc"])
def test_a_field_may_not_take_an_envelope_name(name: str) -> None:
    """A record whose field would hide an envelope field is refused."""
    with pytest.raises(ValueError, match=name):
        line_of({name: 1})


def test_a_record_may_not_pass_64_kib() -> None:
    """A record longer than a reader takes is refused when written."""
    with pytest.raises(ValueError, match=str(LINE_LIMIT_BYTES)):
        line_of({"text": "x" * LINE_LIMIT_BYTES})


def test_wall_time_without_offset_is_refused() -> None:
    """A wall time that does not say its offset cannot be placed in time."""
    with pytest.raises(ValueError, match="offset"):
        encode(
            n=1,
            record_id="a",
            kind="note",
            at=datetime(2026, 1, 1),
            mono_s=0.0,
            program="p",
            prev=FIRST_PREV,
            fields={},
        )


def sealed(text: str) -> bytes:
    body = text.encode()
    return body + f',"crc":"{zlib.crc32(body):08x}"}}'.encode()


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"hello", "not a line of a logbook"),
        (b'{"v":1,"n":3', "cut short"),
        (b"x" * (LINE_LIMIT_BYTES + 1), "longer"),
        (sealed('{"v":1,"n":1'), "has no 'mono_s'"),
        (sealed('{"v":true'), "schema"),
        (sealed('{"v":1,"n":"1","id":"a","kind":"note","at":"","mono_s":0,"program":"","prev":""'), "'n'"),
        (sealed('{"v":1,"n":1,"id":"../a","kind":"note","at":"","mono_s":0,"program":"","prev":""'), "id"),
        (sealed('{"v":1,"n":NaN'), "NaN"),
        (sealed('{"v":1,"deep":' + "[" * 30000 + "]" * 30000), "not JSON"),
        (sealed('{"v":1,"n":' + "9" * 5000), "not JSON"),
        (sealed("[1"), "not JSON"),
    ],
)
def test_a_line_that_is_no_record_is_refused_with_its_reason(line: bytes, reason: str) -> None:
    """Whatever is wrong with a line, it is refused with a reason and never raises anything else."""
    with pytest.raises(DamagedLine, match=reason):
        decode(line)


def test_a_line_of_a_higher_schema_is_told_apart_from_damage() -> None:
    """An intact line of a newer program is not called damaged."""
    with pytest.raises(NewerLine, match="2"):
        decode(sealed('{"v":2,"whatever":[1,2]'))


@given(st.binary(max_size=200))
def test_any_bytes_are_a_record_or_are_refused(data: bytes) -> None:
    """No bytes make the reader raise anything but its two refusals."""
    with pytest.raises((DamagedLine, NewerLine)):
        decode(data)


def test_utc_is_an_offset_like_any_other() -> None:
    """UTC is written as +00:00."""
    line, _ = encode(
        n=1,
        record_id="a",
        kind="note",
        at=datetime(2026, 1, 1, tzinfo=UTC),
        mono_s=0.0,
        program="p",
        prev=FIRST_PREV,
        fields={},
    )
    assert decode(line.rstrip()).at.endswith("+00:00")
