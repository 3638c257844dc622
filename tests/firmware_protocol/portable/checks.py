"""Checks of the wire that any of the three interpreters can run.

Each raises AssertionError or returns a number that must be the same everywhere; `Draw` is a generator of
our own, so that all draw the same numbers.
"""

import binascii
import struct

from firmware_protocol import codec, frames, messages, settings
from tests.firmware_protocol.portable import vectors


class Draw:
    """xorshift32: whole numbers only, the same in every interpreter."""

    def __init__(self, seed: int) -> None:
        self._x = seed or 1

    def bits(self) -> int:
        x = self._x
        x ^= (x << 13) & 0xFFFFFFFF
        x ^= x >> 17
        x ^= (x << 5) & 0xFFFFFFFF
        self._x = x
        return x

    def below(self, n: int) -> int:
        return self.bits() % n

    def some_bytes(self, n: int) -> bytes:
        return bytes([self.bits() & 0xFF for _ in range(n)])


def as_bytes(value: object) -> bytes:
    return value if isinstance(value, bytes) else binascii.unhexlify(str(value))


def cobs_vectors() -> int:
    for plain, stuffed in vectors.COBS:
        assert frames.cobs_encode(plain) == as_bytes(stuffed), plain
        assert frames.cobs_decode(as_bytes(stuffed)) == plain, plain
    for stuffed in vectors.REFUSED:
        try:
            frames.cobs_decode(stuffed)
        except ValueError:
            continue
        raise AssertionError(stuffed)
    return len(vectors.COBS) + len(vectors.REFUSED)


def crc_vectors() -> int:
    assert binascii.crc32(b"123456789") & 0xFFFFFFFF == vectors.CRC_OF_DIGITS
    assert binascii.crc32(b"") == 0
    message = b"123456789"
    crc = binascii.crc32(message) & 0xFFFFFFFF
    assert binascii.crc32(message + struct.pack("<I", crc)) & 0xFFFFFFFF == vectors.CRC_OF_MESSAGE_AND_CRC
    assert frames.FrameReader().feed(b"\x00" + frames.cobs_encode(bytes(4)) + b"\x00") == []
    return vectors.CRC_OF_DIGITS


def frame_round_trips(seed: int, rounds: int) -> int:
    """Whole payloads come back in order however the stream is cut; the CRC of all frames is returned."""
    draw = Draw(seed)
    reader = frames.FrameReader()
    total = 0
    for _ in range(rounds):
        sent = [draw.some_bytes(10 + draw.below(241)) for _ in range(1 + draw.below(3))]
        stream = b"".join([frames.encode(payload) for payload in sent])
        total = binascii.crc32(stream, total)
        got = []
        at = 0
        while at < len(stream):
            cut = 1 + draw.below(60)
            got += reader.feed(stream[at : at + cut])
            at += cut
        assert got == sent
    assert reader.dropped == 0
    return total & 0xFFFFFFFF


def random_messages(seed: int, rounds: int) -> int:
    """Every message of the table round-trips with drawn values; the CRC of the payloads is returned."""
    draw = Draw(seed)
    total = 0
    for _ in range(rounds):
        for row in messages.TABLE:
            message = row[1](*[_draw_value(draw, code) for code in row[2]])
            payload = codec.encode(message, draw.below(0x10000), draw.below(0x10000), draw.bits())
            header, again = codec.decode(payload)
            assert header.kind == row[0]
            assert again == message, row[0]
            total = binascii.crc32(payload, total)
    return total & 0xFFFFFFFF


def _draw_value(draw: Draw, code: str) -> object:
    if code == "S":
        return "".join([chr(0x20 + draw.below(0x5F)) for _ in range(draw.below(17))])
    if code == "*":
        return tuple([draw.bits() for _ in range(draw.below(messages.MAX_STAMPS + 1))])
    return draw.bits() & {"B": 0xFF, "H": 0xFFFF, "I": 0xFFFFFFFF}[code]


def identity(firmware_id: str) -> messages.Identity:
    """An identity with that text in it."""
    return messages.Identity(1, 1, 1, 1, 1, 1, 1, 1, 1, 1, firmware_id, "ok")


def out_of_range_refused() -> int:
    """A value that does not fit its field raises everywhere, though MicroPython's struct would wrap it."""
    tried = 0
    bad = (
        messages.Stop(256, 1),
        messages.Stop(1, 65536),
        messages.Stop(-1, 1),
        messages.SetSpeed(1, 1 << 32),
        messages.SetSpeed(1, -5),
        messages.SetSpeed(1, 2.5),
        messages.SetSpeed(1, "35"),
        messages.SetSpeed(1, None),
        messages.Edges(0, 0, tuple(range(17))),
        messages.Edges(0, 0, (-1,)),
        identity("x" * 17),
        identity("esc\x1b"),
    )
    for message in bad:
        try:
            codec.encode(message)
        except ValueError:
            tried += 1
            continue
        raise AssertionError(message)
    return tried


def settings_store() -> int:
    """Stored settings come back; any flipped bit is seen."""
    stored = settings.store(settings.DEFAULTS)
    assert settings.load(stored) == settings.DEFAULTS
    for i in range(len(stored)):
        for bit in range(8):
            damaged = bytearray(stored)
            damaged[i] ^= 1 << bit
            assert settings.load(bytes(damaged)) is None
    return binascii.crc32(stored) & 0xFFFFFFFF


def random_stream(seed: int, size: int) -> int:
    """Random bytes never raise and hold no frame; the count of dropped stretches is returned."""
    draw = Draw(seed)
    reader = frames.FrameReader()
    stop = frames.RawStop()
    for _ in range(size // 100):
        data = draw.some_bytes(100)
        assert reader.feed(data) == []
        stop.feed(data)
    return reader.dropped


def all_checks(scale: int) -> list[tuple[str, int]]:
    """Names and results, in order."""
    return [
        ("cobs vectors", cobs_vectors()),
        ("crc vectors", crc_vectors()),
        ("frame round trips", frame_round_trips(7, 10 * scale)),
        ("random messages", random_messages(11, 5 * scale)),
        ("out of range refused", out_of_range_refused()),
        ("settings store", settings_store()),
        ("random stream", random_stream(13, 2000 * scale)),
        ("schema hash", messages.SCHEMA_HASH),
    ]
