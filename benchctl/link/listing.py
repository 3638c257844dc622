"""A capture of the wire as lines that a person can read: one line a frame, one a stretch of damage."""

from __future__ import annotations

import re
from collections.abc import Iterator

from benchctl.errors import BadInput
from benchctl.link.recording import Chunk, parse_line
from firmware_protocol import codec, frames, messages, reason_names, reasons

LIMIT_BYTES = 64 * 1024 * 1024
SHOWN_BYTES = 24
_HEX = re.compile(rb"\A[0-9A-Fa-f\s:]+\Z")
_KINDS = {number: make.__name__ for number, make, _ in messages.TABLE}
_ARROWS = {"in": "<-", "out": "->"}
_REASONS = {row[0]: row[1] for row in reasons.REASONS}
_REFUSALS = dict(reasons.REFUSALS)
_NAMED: dict[str, dict[int, str]] = {
    "state": dict(enumerate(reason_names.STATE_NAMES)),
    "reason": _REASONS,
    "latched_fault": _REASONS,
    "fault": _REASONS,
    "refusal": _REFUSALS,
    "stop_kind": dict(enumerate(reasons.STOP_KIND_NAMES)),
    "sensor": {messages.TABLE_SENSOR: "table", messages.LAP_SENSOR: "lap"},
    "call": dict(enumerate(reason_names.CALL_NAMES)),
    "reset_cause": dict(enumerate(reason_names.RESET_CAUSE_NAMES)),
}


def chunks_of(raw: bytes) -> list[Chunk]:
    """The chunks of a capture; way and time are empty where they are not known.

    Takes a recording (JSON Lines of `--record`), text of hexadecimal bytes, or the bytes themselves.
    """
    if len(raw) > LIMIT_BYTES:
        raise BadInput(f"the capture has {len(raw)} bytes; at most {LIMIT_BYTES} are read; cut it")
    if raw.lstrip().startswith(b"{"):
        lines = raw.rstrip(b"\n").split(b"\n")
        whole = lines if raw.endswith(b"\n") else lines[:-1]
        return [parse_line(line, f"line {number} of the capture") for number, line in enumerate(whole, 1)]
    if _HEX.match(raw):
        digits = re.sub(rb"[\s:]", b"", raw).decode("ascii")
        if len(digits) % 2:
            raise BadInput(
                f"the capture holds {len(digits)} hexadecimal digits, an odd number; add or remove one"
            )
        return [Chunk(-1.0, "", bytes.fromhex(digits))]
    return [Chunk(-1.0, "", raw)]


def listing(chunks: list[Chunk]) -> Iterator[str]:
    """A line for each frame or damage, in the order they were completed; each way is read by itself."""
    held: dict[str, bytes] = {}
    for chunk in chunks:
        before = f"{chunk.at_s:10.4f} {_ARROWS.get(chunk.way, '  ')} " if chunk.at_s >= 0.0 else ""
        if chunk.way == "lost":
            yield f"{before}the cable failed: {chunk.why}"
        if chunk.way == "step" and (acts := _acts(chunk)):
            yield f"{before}-- the person: {acts}"
        if chunk.way not in ("in", "out", ""):
            continue
        *whole, rest = (held.get(chunk.way, b"") + chunk.data).split(b"\x00")
        for stretch in whole:
            if stretch:
                yield before + _of_stretch(stretch)
        held[chunk.way] = rest
    for way, rest in held.items():
        if rest:
            yield f"{_ARROWS.get(way, '')} cut off at the end: {_hex(rest)}".lstrip()


def _of_stretch(stretch: bytes) -> str:
    """What lies between two delimiters."""
    payload = frames.check(stretch) if len(stretch) <= frames.MAX_STUFFED else None
    if payload is not None:
        return describe(payload)
    if frames.RawStop().feed(stretch):
        return f"raw stop, {frames.RAW_STOP_COUNT} or more bytes {frames.RAW_STOP_BYTE:02x}: {_hex(stretch)}"
    return f"damaged, {len(stretch)} bytes: {_hex(stretch)}"


def _acts(chunk: Chunk) -> str:
    """The person's acts that a step took, by their names."""
    acts = (chunk.told or {}).get("acts")
    return (
        ", ".join(str(act[0]) for act in acts if isinstance(act, list) and act)
        if isinstance(acts, list)
        else ""
    )


def _hex(data: bytes) -> str:
    return data[:SHOWN_BYTES].hex(" ") + (" ..." if len(data) > SHOWN_BYTES else "")


def describe(payload: bytes) -> str:
    """One frame's payload in words."""
    header = codec.header_of(payload)
    head = f"{header.t_ms:10d} ms  epoch {header.epoch:5d} seq {header.seq:5d}  "
    try:
        message = codec.decode(payload)[1]
    except ValueError as error:
        return f"{head}unreadable: {error}: {_hex(payload)}"
    if message is None or header.version != messages.VERSION:
        return f"{head}kind {header.kind} of version {header.version}: {_hex(payload[codec.HEADER_SIZE :])}"
    names = getattr(message, "_fields", ())
    fields = " ".join(f"{name}={_shown(name, value)}" for name, value in zip(names, message, strict=True))
    return f"{head}{name_of_kind(header.kind)} {fields}".rstrip()


def name_of_kind(kind: int) -> str:
    """The message's name; `kind_N` where the table has none."""
    return _KINDS.get(kind, f"kind_{kind}")


def _shown(name: str, value: object) -> str:
    if isinstance(value, int) and name in ("magic", "schema", "token"):
        return f"{value:08x}"
    if isinstance(value, int) and name == "to_kind":
        return name_of_kind(value)
    if isinstance(value, int) and name in _NAMED:
        return _NAMED[name].get(value, str(value))
    return ",".join(map(str, value)) if isinstance(value, tuple) else str(value)
