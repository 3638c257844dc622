"""Read a logbook in whatever state it is. Damaged lines are set aside and counted, never rewritten."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from benchctl.errors import BadInput, LogbookError
from benchctl.logbook.lines import FIRST_PREV, SCHEMA, DamagedLine, Entry, NewerLine, decode, decode_row

FILE_NAME = "logbook.jsonl"


@dataclass(frozen=True, slots=True)
class SetAside:
    """A line that is not an intact record, or where the row of records is broken. Lines count from 1."""

    line: int
    reason: str
    text: bytes = b""


@dataclass
class Logbook:
    """What a logbook holds: records in the order they were written, and what is wrong with the file."""

    entries: list[Entry] = field(default_factory=list)
    damaged: list[SetAside] = field(default_factory=list)
    """Lines that could not be read."""
    breaks: list[SetAside] = field(default_factory=list)
    """Records that are intact but do not follow on the one before: lines were lost, moved or changed."""
    repeats: int = 0
    """Unfinished writes whose record follows complete, and records written twice; nothing is lost by them."""
    newer_schema: int | None = None
    next_n: int = 1
    last_crc: str = FIRST_PREV
    ends_on_line: bool = True
    """False where the last line has no newline: the write was cut off."""

    @property
    def sound(self) -> bool:
        """True when every line is an intact record in an unbroken row."""
        return not self.damaged and not self.breaks and self.newer_schema is None

    @property
    def read_only_reason(self) -> str | None:
        """Why nothing may be written to this logbook, or None."""
        if self.newer_schema is None:
            return None
        return (
            f"this logbook was written by a newer benchctl (schema {self.newer_schema}, here {SCHEMA}): "
            "it can be read as far as it is understood, but not written to; update benchctl"
        )

    def of_kind(self, *kinds: str) -> Iterator[Entry]:
        return (entry for entry in self.entries if entry.kind in kinds)

    def find(self, name: str) -> Entry | None:
        """The record with this id, or None."""
        return next((entry for entry in self.entries if entry.id == name), None)


def check_folder(folder: Path) -> None:
    """BadInput where no logbook has been kept in `folder` yet."""
    if not (folder / FILE_NAME).exists():
        raise BadInput(
            f"there is no logbook in {folder} yet: the first press or segment begins it; give another folder "
            "or a mirror's file with --logbook, or --rehearsal for the simulated bench"
        )


def read(folder: Path, *, quick: bool = False) -> Logbook:
    """The logbook kept in `folder`; empty where there is none yet. LogbookError where it cannot be read.

    `quick` reads the fields of a record only when they are asked for (see `lines.decode_row`).
    """
    path = folder / FILE_NAME
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Logbook()
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise LogbookError(f"cannot read the logbook {path}: {why}") from error
    return parse(data, quick=quick)


def parse(data: bytes, *, quick: bool = False) -> Logbook:
    """The records of a logbook's bytes. Never raises, whatever the bytes."""
    book = Logbook(ends_on_line=not data or data.endswith(b"\n"))
    row, lines, at = _Row(book), data.split(b"\n"), 0
    while at < len(lines):
        if quick and row.whole:
            at += row.run(lines, at)
        if at < len(lines):
            if stripped := lines[at].rstrip(b"\r"):
                row.take(at + 1, stripped)
            at += 1
    row.finish()
    return book


class _Row:
    """Checks that each record follows on the one before."""

    def __init__(self, book: Logbook) -> None:
        self._book = book
        self._since: list[SetAside] = []

    @property
    def whole(self) -> bool:
        """Whether nothing unreadable stands between the last record and here."""
        return not self._since

    def run(self, lines: Sequence[bytes], start: int) -> int:
        """Take as many lines from `start` on as follow on each other, and say how many."""
        found = decode_row(lines, start, self._book.next_n, self._book.last_crc)
        if found:
            self._book.entries += found
            self._book.next_n, self._book.last_crc = found[-1].n + 1, found[-1].crc
        return len(found)

    def append(self, entry: Entry) -> None:
        """A record that follows on the last one."""
        book = self._book
        book.entries.append(entry)
        book.next_n, book.last_crc = entry.n + 1, entry.crc

    def take(self, number: int, line: bytes) -> None:
        """A line that may be anything."""
        try:
            entry = decode(line)
        except DamagedLine as error:
            self._since.append(SetAside(number, str(error), line))
        except NewerLine as error:
            self._book.newer_schema = max(self._book.newer_schema or 0, int(str(error)))
        else:
            if self.whole and entry.n == self._book.next_n and entry.prev == self._book.last_crc:
                self.append(entry)
            else:
                self._follow(number, line, entry)

    def _follow(self, number: int, line: bytes, entry: Entry) -> None:
        """A record that does not stand right after the one before."""
        book = self._book
        if book.entries and (entry.n, entry.crc) == (book.entries[-1].n, book.last_crc):
            book.repeats += 1
            self._settle()
            return
        fragments = [one for one in self._since if line.startswith(one.text)]
        book.repeats += len(fragments)
        self._since = [one for one in self._since if one not in fragments]
        if book.newer_schema is None:
            self._check(number, entry)
        self._settle()
        book.entries.append(entry)
        book.next_n, book.last_crc = max(book.next_n, entry.n + 1), entry.crc

    def _check(self, number: int, entry: Entry) -> None:
        book = self._book
        missing = entry.n - book.next_n
        if missing > _records_in(self._since):
            book.breaks.append(SetAside(number, f"{missing} records are missing before this one"))
        elif missing < 0:
            book.breaks.append(SetAside(number, f"number {entry.n} comes after number {book.next_n - 1}"))
        elif not self._since and entry.prev != book.last_crc:
            book.breaks.append(
                SetAside(number, "the line before this one is not the one it was written after")
            )

    def _settle(self) -> None:
        self._book.damaged += self._since
        self._since = []

    def finish(self) -> None:
        self._book.next_n += _records_in(self._since)
        self._settle()


def _records_in(damaged: list[SetAside]) -> int:
    """How many records the damaged lines may have held: a lost newline joins two."""
    return sum(max(1, one.text.count(b'{"v":')) for one in damaged)
