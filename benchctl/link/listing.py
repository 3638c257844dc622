"""A capture of the wire as lines that a person can read: one line a frame, one a stretch of damage."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from benchctl.errors import BadInput
from firmware_protocol import codec, frames, messages, reasons

_HEX = re.compile(rb"\A[0-9A-Fa-f\s:]+\Z")
LIMIT_BYTES = 64 * 1024 * 1024


def bytes_of(raw: bytes) -> list[tuple[str, bytes]]:
    """The chunks of a capture, with the way they went ('' where it is not known).

    Takes a recording (JSON Lines of `--record`), text of hexadecimal bytes, or the bytes themselves.
    """
    if len(raw) > LIMIT_BYTES:
        raise BadInput(f"the capture has {len(raw)} bytes; at most {LIMIT_BYTES} are read; cut it")
    if raw.lstrip().startswith(b'{"at_s"'):
        return [_recorded(line, number) for number, line in enumerate(raw.splitlines(), start=1)]
    if _HEX.match(raw):
        digits = re.sub(rb"[\s:]", b"", raw).decode("ascii")
        if len(digits) % 2:
            raise BadInput(
                "the capture holds an odd number of hexadecimal digits; the last byte is half there"
            )
        return [("", bytes.fromhex(digits))]
    return [("", raw)]


def _recorded(line: bytes, number: int) -> tuple[str, bytes]:
    try:
        fields = json.loads(line)
        return str(fields["way"]), bytes.fromhex(fields["hex"])
    except (ValueError, KeyError, TypeError) as error:
        raise BadInput(f"line {number} of the capture is not a line of a recording; it is damaged") from error


def listing(chunks: list[tuple[str, bytes]]) -> Iterator[str]:
    """A line for each frame, in the order they were completed; each way has its own reader."""
    readers: dict[str, frames.FrameReader] = {}
    for way, data in chunks:
        reader = readers.setdefault(way, frames.FrameReader())
        dropped = reader.dropped
        for payload in reader.feed(data):
            yield f"{_ARROWS.get(way, '  ')} {describe(payload)}"
        if reader.dropped > dropped:
            yield f"{_ARROWS.get(way, '  ')} {reader.dropped - dropped} damaged stretch(es) dropped"


_ARROWS = {"in": "<-", "out": "->"}


def describe(payload: bytes) -> str:
    """One frame's payload in words."""
    try:
        header, message = codec.decode(payload)
    except ValueError as error:
        return f"unreadable: {error} ({payload.hex()})"
    head = f"{header.t_ms:10d} ms  epoch {header.epoch:5d} seq {header.seq:5d}  "
    if message is None or header.version != messages.VERSION:
        return f"{head}kind {header.kind} of version {header.version}: {payload[codec.HEADER_SIZE :].hex()}"
    names = getattr(message, "_fields", ())
    fields = " ".join(f"{name}={_shown(name, value)}" for name, value in zip(names, message, strict=True))
    return f"{head}{codec.name_of_kind(header.kind)} {fields}".rstrip()


_REASONS = {row[0]: row[1] for row in reasons.REASONS}
_REFUSALS = dict(reasons.REFUSALS)


def _shown(name: str, value: object) -> str:
    if name == "state" and isinstance(value, int) and value < len(messages.STATE_NAMES):
        return str(messages.STATE_NAMES[value])
    if name in ("reason", "latched_fault") and isinstance(value, int):
        return str(_REASONS.get(value, value))
    if name == "refusal" and isinstance(value, int):
        return str(_REFUSALS.get(value, value))
    return str(list(value)) if isinstance(value, tuple) else str(value)
