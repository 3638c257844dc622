"""One record of the logbook as one line of JSON, and back. Pure: bytes in, bytes out.

A line is a flat JSON object in ASCII. The envelope comes first, then the record's own fields, then
`prev` (the checksum of the line before) and `crc`, the CRC-32 of everything before `,"crc":`.
The checksums show accidents and casual edits; they do not stop a determined forger.
"""

from __future__ import annotations

import json
import math
import re
import zlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from types import UnionType
from typing import Any, Literal

SCHEMA = 1
LINE_LIMIT_BYTES = 65536
FIRST_PREV = "00000000"
TOGETHER = 256
"""Records whose fields are read in one go: enough to gain by it, few enough to stay near the processor."""

Kind = Literal[
    "session_start",
    "segment_start",
    "segment_progress",
    "segment_end",
    "segment_interrupted",
    "inspection",
    "mark_draw",
    "press_start",
    "press",
    "note",
    "correction",
    "decision",
    "alarm",
    "clock",
]
SEGMENT_CLOSED: tuple[Kind, ...] = ("segment_end", "segment_interrupted")
CLOSES: dict[str, str] = {**dict.fromkeys(SEGMENT_CLOSED, "segment"), "press": "press"}
"""Records that end what another one began, and the field that holds that one's id."""
ENVELOPE = ("v", "n", "id", "kind", "at", "mono_s", "program")
RESERVED = frozenset((*ENVELOPE, "prev", "crc"))
_TEXTS = ("id", "kind", "at", "program", "prev", "crc")
_ENVELOPE_TYPES: dict[str, type[Any] | UnionType] = {"n": int, "mono_s": int | float}
_ENVELOPE_TYPES |= dict.fromkeys(_TEXTS, str)
_HEAD = re.compile(
    rb'\{"v":1,"n":(\d{1,12}),"id":"([a-z0-9-]{1,40})","kind":"([a-z_]{1,40})","at":"([ -!#-\[\]-~]{1,40})",'
    rb'"mono_s":(-?\d{1,15}\.\d{1,6}),"program":"([ -!#-\[\]-~]{0,100})",'
)
"""How a line of schema 1 begins when this program wrote it: ASCII, no quote or backslash in its texts."""
_TAIL_BYTES = len(b'"prev":"00000000","crc":"00000000"}')
_SEAL_BYTES = len(b',"crc":"00000000"}')
_SEAL = re.compile(rb',"crc":"([0-9a-f]{8})"\}$')
ID = re.compile(r"[a-z0-9-]{1,40}")


class DamagedLine(ValueError):
    """The line is not an intact record; the message is the reason."""


class NewerLine(ValueError):
    """The line is intact but of a higher schema than this program knows; the message is the schema."""


class Entry:
    """An intact record. `at` is wall time, ISO 8601 with its offset; `mono_s` a monotonic clock's reading.

    `fields` are the record's own; read quickly, they are taken from the line when first asked for.
    """

    __slots__ = ("_ends", "_fields", "_head", "_names", "kind", "n")
    _head: re.Match[bytes] | None
    _ends: tuple[str, str] | bytes
    """`prev` and `crc`; of an unread record, the end of its line."""

    def __init__(
        self,
        n: int,
        id: str,
        kind: str,
        at: str,
        mono_s: float,
        program: str,
        prev: str,
        crc: str,
        fields: dict[str, Any],
    ) -> None:
        self.n, self.kind = n, kind
        self._names, self._ends = (id, at, mono_s, program), (prev, crc)
        self._fields: dict[str, Any] | None = fields
        self._head = None

    @classmethod
    def unread(cls, n: int, head: re.Match[bytes], end: bytes) -> Entry:
        """A record of which only its place in the row has been read; the rest is read when asked for."""
        entry = cls.__new__(cls)
        entry.n, entry.kind = n, head[3].decode("ascii")
        entry._head, entry._ends, entry._fields = head, end, None
        return entry

    @property
    def prev(self) -> str:
        return self._ends[8:16].decode("ascii") if isinstance(self._ends, bytes) else self._ends[0]

    @property
    def crc(self) -> str:
        return self._ends[-10:-2].decode("ascii") if isinstance(self._ends, bytes) else self._ends[1]

    @property
    def id(self) -> str:
        return self._head[2].decode("ascii") if self._head else self._names[0]

    @property
    def at(self) -> str:
        return self._head[4].decode("ascii") if self._head else self._names[1]

    @property
    def mono_s(self) -> float:
        return float(self._head[5]) if self._head else self._names[2]

    @property
    def program(self) -> str:
        return self._head[6].decode("ascii") if self._head else self._names[3]

    @property
    def fields(self) -> dict[str, Any]:
        if self._fields is None:
            try:
                self.take(_parse(self.unread_fields().encode("ascii", "replace")))
            except DamagedLine:
                self.take({})
        return self._fields or {}

    def unread_fields(self) -> str:
        """The record's own fields as JSON, while they are unread; empty after that."""
        if self._head is None or self._fields is not None:
            return ""
        own = self._head.string[self._head.end() : -_TAIL_BYTES - 1]
        return f"{{{own.decode('ascii', 'replace')}}}"

    def take(self, fields: dict[str, Any]) -> None:
        """Take the record's own fields, as they were read from its line."""
        if not fields.keys().isdisjoint(RESERVED):
            fields = {name: value for name, value in fields.items() if name not in RESERVED}
        self._fields = fields

    def with_fields(self, fields: dict[str, Any]) -> Entry:
        """The same record with other fields."""
        envelope = (self.n, self.id, self.kind, self.at, self.mono_s, self.program, self.prev, self.crc)
        return Entry(*envelope, fields)

    def flat(self) -> dict[str, Any]:
        """Envelope and fields in one dictionary, without the checksums."""
        envelope = {name: getattr(self, name) for name in ENVELOPE if name != "v"}
        return envelope | self.fields

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Entry) and (self.n, self.crc, self.flat()) == (
            other.n,
            other.crc,
            other.flat(),
        )

    def __repr__(self) -> str:
        return f"Entry({self.flat()!r})"

    __hash__ = None  # type: ignore[assignment]


def encode(
    *,
    n: int,
    record_id: str,
    kind: str,
    at: datetime,
    mono_s: float,
    program: str,
    prev: str,
    fields: Mapping[str, Any],
) -> tuple[bytes, str]:
    """The line with its newline, and its checksum. Numbers that are not finite become null.

    Raises ValueError for a field that has an envelope's name, a wall time without offset, a bad id
    or a line over 64 KiB; TypeError for a value that JSON does not know.
    """
    if clash := RESERVED & fields.keys():
        raise ValueError(f"a record may not have fields named {sorted(clash)}")
    if at.tzinfo is None:
        raise ValueError("wall time needs its offset from UTC")
    if not ID.fullmatch(record_id):
        raise ValueError(f"{record_id!r} is not a record id")
    when = at.isoformat(timespec="milliseconds")
    envelope = dict(
        zip(ENVELOPE, (SCHEMA, n, record_id, kind, when, round(float(mono_s), 3), program), strict=True)
    )
    whole = _finite(envelope | dict(fields) | {"prev": prev})
    body = json.dumps(whole, allow_nan=False, separators=(",", ":"))[:-1].encode("ascii")
    crc = f"{zlib.crc32(body):08x}"
    line = body + f',"crc":"{crc}"}}\n'.encode("ascii")
    if len(line) > LINE_LIMIT_BYTES:
        raise ValueError(f"the record takes {len(line)} bytes; the limit is {LINE_LIMIT_BYTES}")
    return line, crc


def check_record(kind: Kind, fields: Mapping[str, Any], at: datetime) -> None:
    """Raise now what `encode` would raise for such a record later."""
    encode(
        n=10**12,
        record_id="x" * 40,
        kind=kind,
        at=at,
        mono_s=1e12 + 0.1,
        program="x" * 100,
        prev=FIRST_PREV,
        fields=fields,
    )


def decode(line: bytes) -> Entry:
    """The record of one line (without its newline). Raises DamagedLine or NewerLine."""
    if len(line) > LINE_LIMIT_BYTES:
        raise DamagedLine("longer than a line may be")
    seal = _SEAL.search(line)
    if seal is None:
        raise DamagedLine("cut short" if line.startswith(b'{"v":') else "not a line of a logbook")
    if int(seal[1], 16) != zlib.crc32(line[: seal.start()]):
        raise DamagedLine("changed since it was written (checksum)")
    try:
        return _entry(_parse(line))
    except KeyError as error:
        raise DamagedLine(f"has no {error}") from error


def decode_row(lines: Sequence[bytes], start: int, n: int, prev: str) -> list[Entry]:
    """The records of `lines` from `start` on, as long as each follows on the one before by its two ends.

    The first must have number `n` and come after the record whose checksum is `prev`. Checksums are trusted:
    what stands between the ends is read when it is asked for. It stops where anything is not as `encode`
    writes it; `decode` says what.
    """
    found: list[Entry] = []
    last = prev.encode("ascii")
    for at in range(start, len(lines)):
        line, number = lines[at], n + at - start
        head = _HEAD.match(line)
        if head is None or int(head[1]) != number or len(line) > LINE_LIMIT_BYTES:
            break
        end = b'"prev":"%b","crc":"%08x"}' % (last, zlib.crc32(line[:-_SEAL_BYTES]))
        if not line.endswith(end):
            break
        found.append(Entry.unread(number, head, end))
        last = end[-10:-2]
    return found


def _refuse(word: str) -> None:
    raise DamagedLine(f"holds {word}, which is not JSON")


_DECODER = json.JSONDecoder(parse_constant=_refuse)


def _parse(line: bytes) -> Any:
    try:
        text = line.decode("ascii")
        whole, end = _DECODER.raw_decode(text)
    except DamagedLine:
        raise
    except (ValueError, RecursionError) as error:
        raise DamagedLine("not JSON that can be read") from error
    if end != len(text):
        raise DamagedLine("not JSON that can be read")
    return whole


def read_together(entries: Sequence[Entry]) -> None:
    """Read the fields of many records some hundreds at a time, a quarter faster than one by one."""
    for start in range(0, len(entries), TOGETHER):
        _read_batch(entries[start : start + TOGETHER])


def _read_batch(entries: Sequence[Entry]) -> None:
    unread = [(entry, text) for entry in entries if (text := entry.unread_fields())]
    try:
        wholes = _DECODER.decode(f"[{','.join(text for _, text in unread)}]")
    except (ValueError, RecursionError):
        return  # one of them is not JSON; each is read by itself when it is asked for
    if len(wholes) == len(unread) and all(type(whole) is dict for whole in wholes):
        for (entry, _), whole in zip(unread, wholes, strict=True):
            entry.take(whole)


def _entry(whole: Any) -> Entry:
    if not isinstance(whole, dict):
        raise DamagedLine("not a record of a logbook")
    schema = whole.pop("v")
    if type(schema) is not int or schema < 1:
        raise DamagedLine("has no schema number")
    if schema > SCHEMA:
        raise NewerLine(str(schema))
    envelope = {name: whole.pop(name) for name in _ENVELOPE_TYPES}
    for name, kind in _ENVELOPE_TYPES.items():
        if not isinstance(envelope[name], kind) or isinstance(envelope[name], bool):
            raise DamagedLine(f"'{name}' is not what it should be")
    if not ID.fullmatch(envelope["id"]):
        raise DamagedLine("its id is not one of a logbook")
    return Entry(**envelope, fields=whole)


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _finite(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(part) for part in value]
    return value
