"""Messages <-> payloads, made from the one table in messages.py.

`encode` checks every range itself, since MicroPython's struct wraps silently where CPython's raises.
"""

import struct

from firmware_protocol.messages import MASK32, MAX_STAMPS, TABLE, VERSION, Header
from firmware_protocol.messages import SCHEMA_HASH as SCHEMA_HASH

_MOST = {"B": 0xFF, "H": 0xFFFF, "I": 0xFFFFFFFF}
_HEADER = "<BBHHI"
HEADER_SIZE = 10


_BY_KIND: dict[int, tuple[int, type, str, int, str]] = {}
_BY_TYPE: dict[type, tuple[int, type, str, int, str]] = {}


def _compile() -> None:
    for number, make, codes in TABLE:
        layout = "<" + codes.replace("S", "16s").replace("*", "")
        row = (number, make, layout, struct.calcsize(layout), codes)
        _BY_KIND[number] = row
        _BY_TYPE[make] = row


_compile()


def _checked(name: str, code: str, value: object) -> object:
    if code == "S":
        if not isinstance(value, str) or len(value) > 16 or not _printable(value.encode()):
            raise ValueError("%s: text must be at most 16 printable ASCII characters" % name)
        return value.encode()
    if not isinstance(value, int) or not 0 <= value <= _MOST[code]:
        raise ValueError("%s: %s does not fit %s" % (name, value, code))
    return value


def _printable(text: bytes) -> bool:
    for byte in text:
        if not 0x20 <= byte <= 0x7E:
            return False
    return True


def encode(message: tuple[object, ...], epoch: int = 0, seq: int = 0, t_ms: int = 0) -> bytes:
    """The payload of `message`, a namedtuple of TABLE. ValueError where a value does not fit its field."""
    kind, make, layout, _, codes = _BY_TYPE[type(message)]
    if not (0 <= epoch <= 0xFFFF and 0 <= seq <= 0xFFFF and 0 <= t_ms <= MASK32):
        raise ValueError("header: epoch %s, seq %s or t_ms %s does not fit" % (epoch, seq, t_ms))
    head = struct.pack(_HEADER, VERSION, kind, epoch, seq, t_ms)
    rest: list[object] = []
    tail = codes[-1] == "*"
    if tail:
        stamps = message[-1]
        if not isinstance(stamps, (tuple, list)) or len(stamps) > MAX_STAMPS:
            raise ValueError("stamps: at most %d" % MAX_STAMPS)
        rest = [_checked("stamp", "I", stamp) for stamp in stamps]
        message = message[:-1]
    values: list[object] = []
    for code, value in zip(codes, message):  # noqa: B905
        if code != "S" and isinstance(value, int) and 0 <= value <= _MOST[code]:
            values.append(value)
        else:
            values.append(_checked(make.__name__, code, value))
    body = struct.pack(layout, *values)
    return head + body + struct.pack("<%dI" % len(rest), *rest) if tail else head + body


def header_of(payload: bytes) -> Header:
    """The header alone, of any version. ValueError where the payload is shorter than a header."""
    if len(payload) < HEADER_SIZE:
        raise ValueError("payload of %d bytes has no header" % len(payload))
    return Header(*struct.unpack(_HEADER, payload[:HEADER_SIZE]))


def decode(payload: bytes) -> tuple[Header, tuple[object, ...] | None]:
    """Header and message of a payload. The message is None for a kind that is not in TABLE.

    ValueError where the length does not fit its kind, or device text is not printable ASCII.
    """
    header = header_of(payload)
    row = _BY_KIND.get(header.kind)
    if row is None:
        return header, None
    _, make, layout, size, codes = row
    tail = codes[-1] == "*"
    body = payload[HEADER_SIZE:]
    extra = len(body) - size
    if extra != 0 and not (tail and 0 < extra <= 4 * MAX_STAMPS and extra % 4 == 0):
        raise ValueError("kind %d has %d bytes too many" % (header.kind, extra))
    values = struct.unpack(layout, body[:size])
    if "S" in codes:
        texts = zip(codes, values)  # noqa: B905
        values = tuple([_text(v) if c == "S" else v for c, v in texts])
    if tail:
        return header, make(*values, struct.unpack("<%dI" % (extra // 4), body[size:]))
    return header, make(*values)


def _text(padded: bytes) -> str:
    text = padded.rstrip(b"\x00")
    if not _printable(text):
        raise ValueError("text holds a byte that is not printable ASCII")
    return text.decode()
