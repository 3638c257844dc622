"""The one table of messages: numbers, layouts, ranges, hash; and the numbered reasons."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchctl.link.listing import name_of_kind
from firmware_protocol import describe, messages, reasons, settings
from firmware_protocol.codec import decode, encode, header_of
from firmware_protocol.frames import RAW_STOP_BYTE, RAW_STOP_COUNT, RawStop
from firmware_protocol.frames import encode as frame
from firmware_protocol.messages import TABLE, Header
from tests.firmware_protocol.portable import checks

U8, U16, U32 = st.integers(0, 0xFF), st.integers(0, 0xFFFF), st.integers(0, 0xFFFFFFFF)
TEXT = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=16)
VALUES = {"B": U8, "H": U16, "I": U32, "S": TEXT, "*": st.lists(U32, max_size=16).map(tuple)}


@st.composite
def any_message(draw: st.DrawFn) -> tuple[object, ...]:
    row = draw(st.sampled_from(TABLE))
    message: tuple[object, ...] = row[1](*[draw(VALUES[code]) for code in row[2]])
    return message


@given(any_message(), U16, U16, U32)
def test_round_trip(message: tuple[object, ...], epoch: int, seq: int, t_ms: int) -> None:
    """Every message comes back with its type, values and header."""
    payload = encode(message, epoch, seq, t_ms)
    header, again = decode(payload)
    assert again == message
    assert type(again) is type(message)
    assert header == Header(messages.VERSION, header.kind, epoch, seq, t_ms)
    assert 10 <= len(payload) <= 250


def test_header_layout() -> None:
    """version u8, type u8, epoch u16, seq u16, t_ms u32, little-endian: ten bytes."""
    payload = encode(messages.Ping(0x04030201), 0x0605, 0x0807, 0x0C0B0A09)
    assert payload == bytes([1, messages.PING, 5, 6, 7, 8, 9, 10, 11, 12, 1, 2, 3, 4])


@pytest.mark.parametrize("row", TABLE, ids=lambda row: str(row[1].__name__))
def test_table_fits_its_namedtuples(row: tuple[int, type, str]) -> None:
    """Each row has one known code a field of its namedtuple, and the page a word on each."""
    number, make, codes = row
    fields = describe.fields_of(make)
    assert len(fields) == len(codes)
    assert set(codes) <= set(VALUES)
    assert "*" not in codes[:-1]
    assert direction(number) == describe.direction_of(number)
    if make is not settings.Settings:
        assert all(describe.field_words(make.__name__, field) for field in fields)


def direction(number: int) -> str:
    return "to board" if number < 64 else "from board"


def test_numbers_are_unique() -> None:
    """No two messages share a number, and none has the number of the bare terminal's stop byte."""
    numbers = [row[0] for row in TABLE]
    assert len(set(numbers)) == len(numbers)
    assert RAW_STOP_BYTE not in numbers


def test_stop_keeps_its_place() -> None:
    """STOP is number 6 with kind u8 and reason u16 in every version to come."""
    assert encode(messages.Stop(2, 40))[1:2] + encode(messages.Stop(2, 40))[10:] == bytes([6, 2, 40, 0])


def test_schema_hash_is_right() -> None:
    """The number both ends compare is the hash of the table as it stands."""
    assert describe.schema_hash() == messages.SCHEMA_HASH, (
        f"set SCHEMA_HASH to {describe.schema_hash():#010X}"
    )


def test_schema_hash_sees_every_field() -> None:
    """The hash changes with any number, order or code."""
    seen = {messages.SCHEMA_HASH}
    for i, (number, make, codes) in enumerate(TABLE):
        for j, code in enumerate(codes):
            other = codes[:j] + ("H" if code == "B" else "B") + codes[j + 1 :]
            seen.add(describe.schema_hash((*TABLE[:i], (number, make, other), *TABLE[i + 1 :])))
        seen.add(describe.schema_hash((*TABLE[:i], *TABLE[i + 1 :])))
        seen.add(describe.schema_hash((*TABLE[:i], (number + 100, make, codes), *TABLE[i + 1 :])))
    assert len(seen) == 1 + 2 * len(TABLE) + sum(len(row[2]) for row in TABLE)


def test_the_page_is_up_to_date() -> None:
    """docs/wire-protocol.md is what the tables say."""
    page = Path(__file__).parents[2] / "docs" / "wire-protocol.md"
    assert page.read_text(encoding="utf-8") == describe.page()


def test_out_of_range() -> None:
    """What does not fit its field is refused, never wrapped."""
    assert checks.out_of_range_refused() == 12


@given(any_message(), st.binary(min_size=1, max_size=3))
def test_wrong_length(message: tuple[object, ...], more: bytes) -> None:
    """A body longer or shorter than its kind's is refused."""
    payload = encode(message)
    if not isinstance(message, messages.Edges) or len(more) % 4:
        with pytest.raises(ValueError, match="bytes"):
            decode(payload + more)
    with pytest.raises(ValueError, match="bytes"):
        decode(payload[:-1])


@given(st.binary(max_size=250))
def test_any_payload(payload: bytes) -> None:
    """Any bytes decode, decode to no message, or raise ValueError; what decodes encodes to the same bytes."""
    try:
        header, message = decode(payload)
    except ValueError:
        return
    if message is not None and header.version == messages.VERSION:
        assert encode(message, header.epoch, header.seq, header.t_ms) == payload


@given(st.binary(min_size=16, max_size=16))
def test_device_text(text: bytes) -> None:
    """Device text is printable ASCII padded with zeros; anything else is refused at the decoder."""
    payload = encode(messages.Identity(1, 1, 1, 1, 1, 1, 1, 1, 1, 1, "", "bench"))[:-32] + text + bytes(16)
    plain = text.rstrip(b"\x00")
    if all(0x20 <= byte <= 0x7E for byte in plain):
        message = decode(payload)[1]
        assert isinstance(message, messages.Identity)
        assert message.firmware_id == plain.decode()
    else:
        with pytest.raises(ValueError, match="printable"):
            decode(payload)


def test_unknown_kind() -> None:
    """A kind that is not in the table gives its header and no message, and a name all the same."""
    payload = struct.pack("<BBHHI", 1, 99, 0, 0, 0)
    assert decode(payload) == (Header(1, 99, 0, 0, 0), None)
    assert name_of_kind(99) == "kind_99"
    assert name_of_kind(messages.RENEW) == "Renew"


def test_short_header() -> None:
    """Nine bytes are no header."""
    with pytest.raises(ValueError, match="9 bytes"):
        header_of(bytes(9))


@given(any_message(), U16, U16, U32)
def test_no_message_looks_like_the_raw_stop(
    message: tuple[object, ...], epoch: int, seq: int, t_ms: int
) -> None:
    """No frame of the table holds the bare terminal's stop."""
    assert not RawStop().feed(frame(encode(message, epoch, seq, t_ms)))


def test_worst_order_has_no_raw_stop() -> None:
    """Even an order whose free fields are all 0x18 has no such run, since the token may not be."""
    s = 0x18181818
    order = messages.Renew(0x18181801, s)
    assert not RawStop().feed(frame(encode(order, s & 0xFFFF, s & 0xFFFF, s)))
    assert RAW_STOP_COUNT == 16


def test_reasons() -> None:
    """Reason numbers and names are unique, and go both ways."""
    rows = reasons.REASONS
    assert len({row[0] for row in rows}) == len({row[1] for row in rows}) == len(rows)
    for number, name, kind, latched in rows:
        assert reasons.name_of(number) == name
        assert reasons.number_of(name) == number
        assert reasons.stop_kind_of(number) == kind
        assert reasons.latches(number) == latched
        assert getattr(reasons, name.upper()) == number
    refusals = reasons.REFUSALS
    assert all(getattr(reasons, name.upper()) == number for number, name in refusals)
    assert len({row[0] for row in refusals}) == len({row[1] for row in refusals}) == len(refusals)


def test_unknown_reason() -> None:
    """A reason of a newer side has a name, and is a controlled stop that latches."""
    assert reasons.name_of(999) == "reason_999"
    assert (reasons.stop_kind_of(999), reasons.latches(999)) == (reasons.CONTROLLED_THEN_OFF, True)
    assert reasons.refusal_name(999) == "refusal_999"
    assert not reasons.is_hosts(999)


def test_reasons_of_a_stop() -> None:
    """A STOP names a host's reason: a person, the plan, or what only the host can see."""
    hosts = {row[1] for row in reasons.REASONS if reasons.is_hosts(row[0])}
    assert hosts >= {"host_stop", "planned_end", "lap_stalled", "lap_slowing", "program_error"}
    assert not hosts & {"none", "overspeed", "overload", "power_not_off", "estop_open", "watchdog_reset"}
    assert len(hosts) == 25


def test_settings_store() -> None:
    """Stored settings come back whole; one flipped bit anywhere is seen."""
    assert checks.settings_store()


def test_settings_defaults_are_in_their_limits() -> None:
    """Every default lies in its limits, and the fields are in the order of their ids."""
    for i, row in enumerate(settings.SETTING_TABLE):
        assert row[0] == i + 1
        assert row[1] == settings.Settings._fields[i]
        assert row[3] <= row[2] <= row[4]


def test_settings_out_of_limits_are_damaged() -> None:
    """A stored value out of its limits, with a right CRC, is not used; nor is another layout or length."""
    values = list(settings.DEFAULTS)
    values[2] = 60001
    assert settings.load(settings.store(settings.Settings(*values))) is None
    assert settings.load(settings.store(settings.DEFAULTS)[:-1]) is None
    assert settings.load(b"") is None


def test_with_value() -> None:
    """A value out of its limits, or an id that is none, raises."""
    with pytest.raises(ValueError, match="ceiling_mrpm must be 1000 to 60000"):
        settings.with_value(settings.DEFAULTS, 3, 60001)
    with pytest.raises(KeyError):
        settings.value_of(settings.DEFAULTS, 0)
