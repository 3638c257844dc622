"""Frames on a line that loses, changes and invents bytes."""

from __future__ import annotations

import random
import zlib

import pytest
from cobs import cobs
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import frames
from firmware_protocol.frames import FrameReader, RawStop
from tests.firmware_protocol.portable import checks, vectors

PAYLOADS = st.binary(min_size=10, max_size=250)


def test_cobs_vectors() -> None:
    """The published vectors encode and decode; what no encoder writes is refused."""
    assert checks.cobs_vectors() == 17


@given(st.binary(max_size=600))
def test_cobs_like_the_library(data: bytes) -> None:
    """Our stuffing is that of the `cobs` package, byte for byte, and undoes its output."""
    assert frames.cobs_encode(data) == cobs.encode(data)
    assert frames.cobs_decode(cobs.encode(data)) == data


@given(st.binary(max_size=300))
def test_one_canonical_form(stuffed: bytes) -> None:
    """Whatever decodes is exactly what the encoder writes for it."""
    try:
        data = frames.cobs_decode(stuffed)
    except ValueError:
        return
    assert frames.cobs_encode(data) == stuffed


def test_crc_vectors() -> None:
    """The CRC has the published check value; four zero bytes are no frame though their CRC fits."""
    assert checks.crc_vectors() == 0xCBF43926


@given(PAYLOADS)
def test_frame_layout(payload: bytes) -> None:
    """A frame is 00, COBS of payload and zlib's CRC-32 little-endian, 00."""
    crc = zlib.crc32(payload).to_bytes(4, "little")
    assert frames.encode(payload) == b"\x00" + cobs.encode(payload + crc) + b"\x00"


@pytest.mark.parametrize("size", [0, 9, 251, 1000])
def test_payload_size(size: int) -> None:
    """A payload of fewer than 10 or more than 250 bytes is refused."""
    with pytest.raises(ValueError, match="10 to 250"):
        frames.encode(bytes(size))


def test_cobs_adds_one_byte() -> None:
    """The longest frame has 254 stuffed bytes, one more for COBS, and two delimiters."""
    assert len(frames.encode(bytes([1]) * 250)) == 257


@given(st.lists(PAYLOADS, max_size=5), st.integers(1, 40))
def test_stream_cut_anywhere(sent: list[bytes], cut: int) -> None:
    """Whole payloads come back, in order, however the bytes arrive."""
    stream = b"".join(map(frames.encode, sent))
    reader = FrameReader()
    got = [p for at in range(0, len(stream), cut) for p in reader.feed(stream[at : at + cut])]
    assert got == sent
    assert reader.dropped == 0


@given(PAYLOADS, PAYLOADS, PAYLOADS, st.data())
def test_damage_costs_itself(first: bytes, hit: bytes, last: bytes, data: st.DataObject) -> None:
    """A changed byte inside one frame leaves its neighbours whole, and is counted."""
    frame = bytearray(frames.encode(hit))
    at = data.draw(st.integers(1, len(frame) - 2))
    frame[at] ^= data.draw(st.integers(1, 255))
    reader = FrameReader()
    got = reader.feed(frames.encode(first) + bytes(frame) + frames.encode(last))
    assert got == [first, last]
    assert reader.dropped >= 1


@given(PAYLOADS, PAYLOADS, st.data())
def test_lost_delimiter(first: bytes, second: bytes, data: st.DataObject) -> None:
    """Any one byte lost or changed anywhere costs at most one frame."""
    stream = bytearray(frames.encode(first) + frames.encode(second))
    at = data.draw(st.integers(0, len(stream) - 1))
    if data.draw(st.booleans()):
        del stream[at]
    else:
        stream[at] ^= data.draw(st.integers(1, 255))
    got = FrameReader().feed(bytes(stream))
    assert first in got or second in got


def test_bounded_memory() -> None:
    """A stream without delimiters is thrown away, not kept; the frame after it is read."""
    reader = FrameReader()
    for _ in range(1000):
        assert reader.feed(b"\x55" * 100) == []
        assert len(reader._held) <= 255
    payload = bytes(range(20))
    assert reader.feed(frames.encode(payload)) == [payload]
    assert reader.dropped == 1


def test_a_million_random_bytes() -> None:
    """10^6 random bytes hold no frame, raise nothing, and the reader still works after them."""
    rng = random.Random(1)
    reader = FrameReader()
    for _ in range(1000):
        assert reader.feed(rng.randbytes(1000)) == []
    assert reader.dropped > 2000
    reader.feed(b"\x00")
    assert reader.feed(frames.encode(bytes(12))) == [bytes(12)]


def mutate(frame: bytes, rng: random.Random) -> bytes:
    """The frame with one to three bytes changed, lost, added, or four in a row changed."""
    out = bytearray(frame)
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(len(out))
        act = rng.randrange(4)
        if act == 0:
            out[at] ^= rng.randrange(1, 256)
        elif act == 1:
            del out[at]
        elif act == 2:
            out.insert(at, rng.randrange(256))
        else:
            out[at : at + 4] = rng.randbytes(len(out[at : at + 4]))
    return bytes(out)


def count_false(mutants: int, seed: int) -> int:
    """How many mutated frames were read as a payload that was not sent."""
    rng = random.Random(seed)
    false = 0
    for number in range(mutants):
        payload = number.to_bytes(4, "little") + rng.randbytes(rng.randrange(6, 30))
        for got in FrameReader().feed(b"\x00" + mutate(frames.encode(payload), rng) + b"\x00"):
            false += got != payload
    return false


@pytest.mark.parametrize("seed", [2, 3, 4, 5])
def test_mutated_frames(seed: int) -> None:
    """Of 10^6 mutated frames (a quarter here) none is read as something that was not sent."""
    assert count_false(250_000, seed) == 0


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("seed", range(40))
def test_many_mutated_frames(seed: int) -> None:
    """10^7 mutated frames and 10^7 random bytes: no false frame, no exception."""
    assert count_false(250_000, 100 + seed) == 0
    assert FrameReader().feed(random.Random(seed).randbytes(250_000)) == []


def test_raw_stop() -> None:
    """Sixteen 0x18 in a row are the stop of a bare terminal, wherever the bytes are cut; fifteen are not."""
    for cut in (1, 5, 16):
        scanner = RawStop()
        run = b"\x18" * 16
        found = [scanner.feed(run[at : at + cut]) for at in range(0, 16, cut)]
        assert found[-1]
        assert not any(found[:-1])
    scanner = RawStop()
    assert not scanner.feed(b"\x18" * 15 + b"\x00" + b"\x18" * 15)
    assert scanner.feed(b"\x18")


def test_raw_stop_after_half_a_frame() -> None:
    """The escape works although a dying host left half a frame on the line."""
    scanner = RawStop()
    assert scanner.feed(frames.encode(bytes(range(30)))[:12] + b"\x18" * 16)


def test_round_trips() -> None:
    """The portable round trips pass here as they must in MicroPython."""
    assert checks.frame_round_trips(3, 50)
    assert vectors.COBS
